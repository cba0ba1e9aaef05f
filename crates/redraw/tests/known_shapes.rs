//! Redraws of shapes whose outlines are known exactly. Sources are the shapes themselves: the formula of a
//! circle, the corners of a polygon.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

mod common;

use common::{BLACK, BLUE, CLEAR, GREEN, RED, WHITE, along, art, corners, inside, redrawn, star, to_ring};
use kurbo::{PathSeg, Point};
use strikeoff_redraw::{Colour, Redrawing, Shape};

fn of_colour(made: &Redrawing, rgba: [u8; 4]) -> Vec<&Shape> {
    let near = |c: &Colour| (0..3).all(|k| c.rgb[k].abs_diff(rgba[k]) <= 2) && c.opacity == rgba[3];
    let index = made.colours.iter().position(near).unwrap_or_else(|| panic!("{rgba:?} in {:?}", made.colours));
    made.shapes.iter().filter(|s| s.colour == index).collect()
}

#[test]
fn a_circle_is_a_circle() {
    for (x, y, r) in [(30.3, 29.8, 20.4), (16.0, 15.5, 7.25), (12.2, 12.9, 3.1)] {
        let disc = |u: f64, v: f64| if (u - x).hypot(v - y) < r { RED } else { WHITE };
        let made = redrawn(64, 60, &art(64, 60, disc));
        assert_eq!((made.shapes.len(), made.colours.len()), (2, 2));
        let shape = of_colour(&made, RED)[0];
        for p in along(&shape.outline) {
            assert!(((p.x - x).hypot(p.y - y) - r).abs() < 0.06, "{p:?} of {x} {y} {r}");
        }
        assert!(corners(&shape.outline).is_empty() && shape.outline.segments().count() <= 8);
    }
}

#[test]
fn a_turned_square_has_four_sharp_corners_and_four_straight_sides() {
    for degrees in [0.0, 3.0, 17.0, 45.0, 61.5] {
        let turn = f64::to_radians(degrees + 45.0);
        let ring: Vec<(f64, f64)> = (0..4)
            .map(|i| turn + f64::from(i) * std::f64::consts::FRAC_PI_2)
            .map(|a| (40.3 + 28.0 * a.cos(), 39.6 + 28.0 * a.sin()))
            .collect();
        let made = redrawn(80, 80, &art(80, 80, |x, y| if inside(&ring, x, y) { BLUE } else { WHITE }));
        let shape = of_colour(&made, BLUE)[0];
        let lines = shape.outline.segments().filter(|s| matches!(s, PathSeg::Line(l) if l.p0 != l.p1)).count();
        assert_eq!((lines, shape.outline.segments().filter(|s| matches!(s, PathSeg::Cubic(_))).count()), (4, 0));
        let found = corners(&shape.outline);
        for (x, y) in &ring {
            let far = found.iter().map(|p| p.distance(Point::new(*x, *y))).fold(f64::MAX, f64::min);
            assert!(far < 0.08, "{far} at {degrees}");
        }
        if degrees == 0.0 {
            for s in shape.outline.segments() {
                let (a, b) = (kurbo::ParamCurve::start(&s), kurbo::ParamCurve::end(&s));
                assert!(a.x == b.x || a.y == b.y, "level and upright to the last bit: {s:?}");
            }
        }
    }
}

#[test]
fn a_star_keeps_its_points() {
    let ring = star(50.2, 49.7, 5, 42.0, 18.0, 0.3);
    let made = redrawn(100, 100, &art(100, 100, |x, y| if inside(&ring, x, y) { RED } else { BLUE }));
    let shape = of_colour(&made, RED)[0];
    let found = corners(&shape.outline);
    assert_eq!(found.len(), 10);
    for (x, y) in &ring {
        let far = found.iter().map(|p| p.distance(Point::new(*x, *y))).fold(f64::MAX, f64::min);
        assert!(far < 0.2, "{far}");
    }
    assert!(along(&shape.outline).iter().all(|p| to_ring(&ring, *p) < 0.1));
}

#[test]
fn a_ring_on_clear_is_two_circles() {
    let at = |x: f64, y: f64| {
        let r = (x - 40.0).hypot(y - 40.4);
        if (18.3..24.9).contains(&r) { GREEN } else { CLEAR }
    };
    let made = redrawn(80, 80, &art(80, 80, at));
    assert_eq!(made.shapes.len(), 3);
    let ring = of_colour(&made, GREEN)[0];
    for p in along(&ring.outline) {
        let r = (p.x - 40.0).hypot(p.y - 40.4);
        assert!((r - 18.3).abs().min((r - 24.9).abs()) < 0.05, "{r}");
    }
    assert_eq!(of_colour(&made, CLEAR).len(), 2);
}

#[test]
fn a_thin_line_stays_whole() {
    for (width, turn) in [(0.7, 0.2_f64), (1.0, 1.1), (1.6, 0.0), (1.0, 0.02)] {
        let (sin, cos) = turn.sin_cos();
        let at = |x: f64, y: f64| {
            let (along, across) = ((x - 50.3) * cos + (y - 50.2) * sin, (y - 50.2) * cos - (x - 50.3) * sin);
            // A square at one end lies flat, so that the colour is seen whole somewhere.
            let block = (along + 40.0).abs() < 4.0 && across.abs() < 4.0;
            if block || (along.abs() < 40.0 && across.abs() < width / 2.0) { BLACK } else { WHITE }
        };
        let made = redrawn(100, 100, &art(100, 100, at));
        let black = of_colour(&made, BLACK);
        assert_eq!(black.len(), 1, "width {width} turn {turn}");
        let area = 64.0 + 76.0 * width;
        assert!((black[0].area_px - area).abs() < 0.05 * area, "{} for {area}", black[0].area_px);
    }
}

#[test]
fn a_thin_line_of_a_colour_of_its_own_is_found() {
    let at = |x: f64, y: f64| {
        if (x - y * 0.31 - 20.0).abs() < 0.75 {
            RED
        } else if (x - 70.0).hypot(y - 40.0) < 12.0 {
            BLUE
        } else {
            WHITE
        }
    };
    let made = redrawn(100, 80, &art(100, 80, at));
    let near = |c: &&Colour| c.rgb[0] > 180 && c.rgb[1] < 70 && c.rgb[2] < 80;
    assert!(made.colours.iter().any(|c| near(&c)), "{:?}", made.colours);
    assert_eq!(made.colours.len(), 3, "{:?}", made.colours);
}

#[test]
fn stripes_behind_a_disc_go_on_straight() {
    let at = |x: f64, y: f64| {
        if (x - 50.0).hypot(y - 45.0) < 20.0 {
            RED
        } else if y < 33.4 {
            BLUE
        } else if y < 57.2 {
            WHITE
        } else {
            GREEN
        }
    };
    let made = redrawn(100, 90, &art(100, 90, at));
    assert_eq!(made.colours.len(), 4);
    assert_eq!(made.shapes.len(), 5);
    let level: Vec<f64> = made
        .edges
        .iter()
        .filter(|e| e.left.is_some() && e.right.is_some())
        .flat_map(|e| e.path.segments())
        .filter_map(|s| if let PathSeg::Line(l) = s { (l.p0.y == l.p1.y).then_some(l.p0.y) } else { None })
        .collect();
    assert_eq!(level.len(), 4, "{level:?}");
    assert!(level.iter().all(|y| (y - 33.4).abs() < 0.03 || (y - 57.2).abs() < 0.03), "{level:?}");
    let disc = of_colour(&made, RED)[0];
    assert!(along(&disc.outline).iter().all(|p| (p.distance(Point::new(50.0, 45.0)) - 20.0).abs() < 0.1));
}

#[test]
fn letters_keep_their_stems() {
    // An E and a T of bars three and a half pixels wide.
    let bars = [
        (10.2, 10.0, 13.7, 40.0),
        (10.2, 10.0, 28.0, 13.5),
        (10.2, 23.2, 24.0, 26.7),
        (10.2, 36.5, 28.0, 40.0),
        (34.0, 10.0, 56.0, 13.5),
        (43.2, 10.0, 46.7, 40.0),
    ];
    let at = |x: f64, y: f64| {
        if bars.iter().any(|&(l, t, r, b)| x >= l && x < r && y >= t && y < b) { BLACK } else { WHITE }
    };
    let made = redrawn(64, 50, &art(64, 50, at));
    let black = of_colour(&made, BLACK);
    assert_eq!(black.len(), 2);
    assert_eq!(black.iter().map(|s| corners(&s.outline).len()).sum::<usize>(), 20);
    for p in black.iter().flat_map(|s| corners(&s.outline)) {
        let xs = bars.iter().flat_map(|b| [b.0, b.2]).map(|x| (x - p.x).abs()).fold(f64::MAX, f64::min);
        let ys = bars.iter().flat_map(|b| [b.1, b.3]).map(|y| (y - p.y).abs()).fold(f64::MAX, f64::min);
        assert!(xs < 0.12 && ys < 0.12, "{p:?}");
    }
}

#[test]
fn rounded_corners_are_arcs_between_straight_sides() {
    let at = |x: f64, y: f64| {
        let (dx, dy) = ((x - 40.0).abs() - 20.3, (y - 30.0).abs() - 10.2);
        let out = dx.max(0.0).hypot(dy.max(0.0)) + dx.max(dy).min(0.0);
        if out < 8.0 { BLUE } else { CLEAR }
    };
    let made = redrawn(80, 60, &art(80, 60, at));
    let shape = of_colour(&made, BLUE)[0];
    let lines = shape.outline.segments().filter(|s| matches!(s, PathSeg::Line(l) if l.p0.distance(l.p1) > 1.0)).count();
    assert_eq!((lines, corners(&shape.outline).len()), (4, 0));
    for p in along(&shape.outline) {
        let (dx, dy) = ((p.x - 40.0).abs() - 20.3, (p.y - 30.0).abs() - 10.2);
        let out = dx.max(0.0).hypot(dy.max(0.0)) + dx.max(dy).min(0.0) - 8.0;
        assert!(out.abs() < 0.1, "{out} at {p:?}");
    }
}

#[test]
fn small_holes_and_dots_are_kept() {
    let at = |x: f64, y: f64| {
        let hole = (x - 20.4).hypot(y - 20.3) < 1.5;
        let dot = (x - 50.2).hypot(y - 20.6) < 1.4;
        if dot || ((x - 20.0).abs() < 12.0 && (y - 20.0).abs() < 12.0 && !hole) { BLACK } else { WHITE }
    };
    let made = redrawn(64, 40, &art(64, 40, at));
    assert_eq!((of_colour(&made, BLACK).len(), of_colour(&made, WHITE).len()), (2, 2));
    let dot = of_colour(&made, BLACK)[1];
    assert!((dot.area_px - 1.96 * std::f64::consts::PI).abs() < 1.0, "{}", dot.area_px);
}

/// A cut-out with soft edges on clear: one colour and no halo of another, its edge where half is covered.
#[test]
fn soft_edges_on_clear_leave_no_halo() {
    let (middle, radius) = (32.3, 20.4);
    let mut bytes = Vec::new();
    for i in 0..64 * 64 {
        let (x, y) = ((i % 64) as f64 + 0.5, (i / 64) as f64 + 0.5);
        // From solid to clear over three pixels; the colour stays to the last.
        let cover = (0.5 - ((x - middle).hypot(y - middle) - radius) / 3.0).clamp(0.0, 1.0);
        let opacity = (cover * 255.0).round() as u8;
        bytes.extend(if opacity == 0 { CLEAR } else { [RED[0], RED[1], RED[2], opacity] });
    }
    let made = redrawn(64, 64, &bytes);
    assert_eq!((made.colours.len(), made.shapes.len()), (2, 2), "{:?}", made.colours);
    let disc = of_colour(&made, RED)[0];
    for p in along(&disc.outline) {
        let off = p.distance(Point::new(middle, middle)) - radius;
        assert!(off.abs() < 0.12, "{off} at {p:?}");
    }
}
