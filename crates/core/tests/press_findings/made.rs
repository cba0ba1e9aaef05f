//! Constructed jobs: screens painted by functions of millimetres, on a garment.

use strikeoff_core::Progress;
use strikeoff_core::findings::{Change, Finding, Kind, Severity, check_job};
use strikeoff_core::halftone::SmallDots;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Stop, proof_from_screens};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::tune::apply_edits;
use strikeoff_core::units::Ppi;
use strikeoff_core::usage::Mesh;

pub const WHITE: &str = "#FFFFFF";
pub const BLACK: &str = "#141416";

/// Coverage of a screen at a place in mm.
pub type Paint = Box<dyn Fn(f64, f64) -> f64 + Sync>;

/// Size and resolution of a print.
#[derive(Clone, Copy)]
pub struct Sheet {
    pub width_mm: f64,
    pub height_mm: f64,
    pub ppi: f64,
}

/// What most prints here are.
pub const USUAL: Sheet = Sheet { width_mm: 120.0, height_mm: 160.0, ppi: 150.0 };

#[derive(Clone)]
pub struct Made {
    pub job: Job,
    pub prepared: Prepared,
    pub screens: Screens,
}

impl Made {
    pub fn findings(&self) -> Vec<Finding> {
        check_job(&self.job, &self.prepared, &self.screens, &Progress::none()).unwrap()
    }

    pub fn flash(mut self, after: &str) -> Self {
        self.job.press.stops.insert(after.into(), Stop::Flash);
        self
    }

    pub fn change(mut self, f: impl FnOnce(&mut Job)) -> Self {
        f(&mut self.job);
        self
    }

    pub fn on_mesh(self, name: &str) -> Self {
        self.change(|job| job.run.mesh = Mesh::named(name).unwrap())
    }

    /// The art of another job: what the client sent.
    pub fn with_art_of(mut self, other: Self) -> Self {
        self.prepared = other.prepared;
        self
    }

    /// The one finding of a kind; if there are several, the worst.
    pub fn find(&self, kind: Kind) -> Finding {
        let findings = self.findings();
        let found = findings.iter().find(|f| f.kind == kind).cloned();
        found.unwrap_or_else(|| {
            panic!("{kind:?} is not among {:?}", findings.iter().map(|f| f.kind).collect::<Vec<_>>())
        })
    }

    /// The job with a finding's fix applied, edits on the screens as they are.
    pub fn fixed(&self, finding: &Finding, suits: impl Fn(&Change) -> bool) -> Option<Self> {
        let fix = finding.fixes.iter().find(|m| m.changes.iter().any(&suits))?;
        let mut out = self.clone();
        fix.apply(&mut out.job);
        apply_edits(&mut out.screens, &out.prepared, &out.job.edits, &out.job.ground(), &Progress::none()).unwrap();
        Some(out)
    }
}

/// Inks of a made-up shelf.
pub fn ink(name: &str) -> Ink {
    let (hex, opacity, role) = match name {
        "Black" => ("#1A1A1C", 0.95, InkRole::Black),
        "White" => ("#F4F4F0", 0.85, InkRole::White),
        "Base" => ("#F0F0EC", 0.85, InkRole::BaseWhite),
        "Yellow" => ("#FFD91A", 0.55, InkRole::Color),
        "Red" => ("#D0202E", 0.65, InkRole::Color),
        "Blue" => ("#1F4FA8", 0.65, InkRole::Color),
        "Green" => ("#1E8A4C", 0.65, InkRole::Color),
        other => panic!("no ink {other}"),
    };
    serde_json::from_value(serde_json::json!({ "name": name, "over_white": hex, "opacity": opacity, "role": role }))
        .unwrap()
}

/// Screens in print order on the usual sheet.
pub fn make(garment: &str, list: Vec<(&str, Paint)>) -> Made {
    make_on(USUAL, garment, list)
}

/// Screens in print order. The art is what they mean to print.
pub fn make_on(sheet: Sheet, garment: &str, list: Vec<(&str, Paint)>) -> Made {
    let garment = Garment { fabric: Some("cotton".into()), ..Garment::of_color(garment.parse().unwrap()) };
    let (width, height) = ((sheet.width_mm / 25.4 * sheet.ppi) as usize, (sheet.height_mm / 25.4 * sheet.ppi) as usize);
    let ppi = Ppi::new(sheet.ppi).unwrap();
    let mm = 25.4 / sheet.ppi;
    let list = list
        .into_iter()
        .map(|(name, paint)| Screen {
            name: name.into(),
            ink: ink(name),
            hits: 1,
            coverage: Plane::from_fn(width, height, |x, y| {
                let a = paint((x as f64 + 0.5) * mm, (y as f64 + 0.5) * mm);
                (a.clamp(0.0, 1.0) * 65535.0).round() as u16
            }),
        })
        .collect();
    let screens = Screens { width, height, ppi, list };
    let mut job = Job::new(garment);
    job.info.quantity = 150;
    job.run.heads = 10;
    // Films of dots as small as tones ask for; what a new job's films do with them is tested by itself.
    job.film.limits.below = SmallDots::Keep;
    if screens.list.len() > 1 {
        let inks: Vec<_> = screens.list.iter().map(|screen| (screen.name.clone(), Some(&screen.ink))).collect();
        job.film.give_angles(&inks);
    }
    let picture = proof_from_screens(&screens, &job.ground(), |_| true);
    let prepared = Prepared { picture, ppi, print_size_mm: [sheet.width_mm, sheet.height_mm], true_ppi: 200.0 };
    Made { job, prepared, screens }
}

pub fn rect(left: f64, top: f64, right: f64, bottom: f64) -> Paint {
    tint(left, top, right, bottom, 1.0)
}

/// A rectangle of one tone.
pub fn tint(left: f64, top: f64, right: f64, bottom: f64, tone: f64) -> Paint {
    Box::new(move |x, y| if (left..right).contains(&x) && (top..bottom).contains(&y) { tone } else { 0.0 })
}

/// A disc, solid to its edge.
pub fn disc(cx: f64, cy: f64, r: f64) -> Paint {
    Box::new(move |x, y| f64::from(u8::from((x - cx).hypot(y - cy) < r)))
}

/// A blend from `from` to `to` across a rectangle.
pub fn blend(left: f64, right: f64, from: f64, to: f64) -> Paint {
    Box::new(move |x, y| {
        if !(left..right).contains(&x) || !(10.0..150.0).contains(&y) {
            return 0.0;
        }
        from + (to - from) * (x - left) / (right - left)
    })
}

/// A soft blob that fades to nothing.
pub fn blob(cx: f64, cy: f64, r: f64) -> Paint {
    Box::new(move |x, y| (1.25 * (-((x - cx).powi(2) + (y - cy).powi(2)) / (r * r)).exp() - 0.05).clamp(0.0, 1.0))
}

/// A solid square whose last centimetre fades to nothing.
pub fn soft_square(cx: f64, cy: f64, half: f64) -> Paint {
    Box::new(move |x, y| ((half - (x - cx).abs().max((y - cy).abs())) / 10.0).clamp(0.0, 1.0))
}

/// The larger of two paints.
pub fn both(a: Paint, b: Paint) -> Paint {
    Box::new(move |x, y| a(x, y).max(b(x, y)))
}

/// The first where the second has nothing.
pub fn without(a: Paint, b: Paint) -> Paint {
    Box::new(move |x, y| if b(x, y) > 0.0 { 0.0 } else { a(x, y) })
}

/// Upright lines of `wide` mm, one every `every` mm, inside a rectangle. The first begins at `left`.
pub fn lines(left: f64, top: f64, right: f64, bottom: f64, every: f64, wide: f64) -> Paint {
    Box::new(move |x, y| {
        let inside = (left..right).contains(&x) && (top..bottom).contains(&y);
        f64::from(u8::from(inside && (x - left).rem_euclid(every) < wide))
    })
}

/// A constructed press fault and what must be reported of it.
pub struct Fault {
    pub name: &'static str,
    pub made: Made,
    pub kind: Kind,
    pub severity: Severity,
    /// Screens that the finding names, if it is about screens.
    pub screens: &'static [&'static str],
    /// Where it is on the print, left, top, right, bottom in mm, and how much of that the finding's
    /// own box must cover at least; none for what is everywhere or nowhere.
    pub area: Option<([f64; 4], f64)>,
    /// Between what the number must lie.
    pub number: (f64, f64),
    /// A change that fixes it, if there is one.
    pub fix: Option<fn(&Change) -> bool>,
}

impl Fault {
    /// All that is wrong with the report of this fault; nothing if it is right.
    pub fn complaints(&self) -> Vec<String> {
        let mut out = Vec::new();
        let mut say = |what: String| out.push(format!("{}: {what}", self.name));
        let findings = self.made.findings();
        let same = |f: &&Finding| f.kind == self.kind && (self.screens.is_empty() || f.screens == self.screens);
        let Some(found) = findings.iter().find(same) else {
            let all: Vec<String> =
                findings.iter().map(|f| format!("{:?} {:?}: {}", f.kind, f.screens, f.what)).collect();
            say(format!("not found; there is {all:#?}"));
            return out;
        };
        if found.severity != self.severity {
            say(format!("is a {}: {}", found.severity.label(), found.what));
        }
        if !(self.number.0..=self.number.1).contains(&found.number.value) {
            say(format!("the number is {}", found.number));
        }
        if found.inputs.is_empty() {
            say("rests on nothing".to_owned());
        }
        if let Some(wrong) = self.misplaced(found) {
            say(wrong);
        }
        if let Some(suits) = self.fix {
            let Some(fixed) = self.made.fixed(found, suits) else {
                say(format!("has no such fix, but {:#?}", found.fixes));
                return out;
            };
            let left = fixed.findings();
            if let Some(left) = left.iter().find(|f| f.kind == self.kind && f.screens == found.screens) {
                say(format!("is still there after its fix: {}", left.what));
            }
        }
        out
    }

    fn misplaced(&self, found: &Finding) -> Option<String> {
        let ([left, top, right, bottom], covers) = self.area?;
        let Some(place) = &found.place else { return Some("has no place".to_owned()) };
        let [x, y, w, h] = place.region_mm;
        // Blocks of the survey are half a millimetre wide and more.
        let slack = 2.0;
        let inside = x >= left - slack && y >= top - slack && x + w <= right + slack && y + h <= bottom + slack;
        let share = w * h / ((right - left) * (bottom - top));
        (!inside || share < covers).then(|| format!("is at {:?} mm", place.region_mm))
    }
}
