//! How the chosen screen's film is screened: ruling, angle, dot and mesh, each the job's until it is
//! changed here.

use egui::{ComboBox, DragValue, Ui};
use strikeoff_core::halftone::{AngleRule, DOT_SIZES_MM, DotShape, FilmSettings, ScreenFilm};
use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::units::{Coverage, Degrees, Lpi, Mm};

use crate::derived::risk_key;
use crate::state::State;
use crate::ui::format::trim;
use crate::ui::theme::palette;
use crate::ui::widgets::{card, one_of, plain_button, quiet, row};

/// Draws the card and changes the job.
pub fn film_card_ui(ui: &mut Ui, state: &State, job: &mut Job, screen: &ScreenName) {
    let p = palette(ui.ctx());
    card(ui, "Film", |ui| {
        let (ruling, angle, dot) = job.film.of_screen(screen);
        let on_grid = dot.size_mm().is_none();
        ui.add_enabled_ui(on_grid, |ui| {
            if let Some(ruling) = ruling_ui(ui, ruling) {
                job.film.change_own(screen, |own| own.ruling = Some(ruling));
            }
            if let Some(angle) = angle_ui(ui, angle, &job.film.angles_at_hand) {
                job.film.change_own(screen, |own| own.angle = Some(angle));
            }
        });
        if let Some(dot) = dot_ui(ui, dot) {
            job.film.change_own(screen, |own| own.dot = Some(dot));
        }
        mesh_ui(ui, job, screen);
        let mesh = job.run.mesh_of(screen);
        if on_grid {
            let ratio = mesh.threads_per_inch / ruling.get();
            let moire = match state.derived.risk.current(&risk_key(job, screen)) {
                None => "looking for moire".to_owned(),
                Some(0.0) => "no visible beat on this mesh".to_owned(),
                Some(risk) => format!("moire risk {:.0} % on this mesh", risk * 100.0),
            };
            ui.label(quiet(format!("{} threads a dot, {moire}", trim(ratio, 1)), p));
        } else {
            ui.label(quiet("dots of one size: ruling and angle do not apply", p));
        }
        let apart = job.film.angles == AngleRule::Apart;
        if job.film.own(screen).is_some_and(|own| own.ruling.is_some() || own.dot.is_some() || !apart) {
            let button = plain_button(ui, "Same as the job");
            if button.on_hover_text("Ruling, angle and dot of this screen follow the job again").clicked() {
                job.film.change_own(screen, |own| *own = ScreenFilm::default());
            }
        }
    });
}

/// A field for a ruling; the new one if it was changed.
pub fn ruling_ui(ui: &mut Ui, ruling: Lpi) -> Option<Lpi> {
    row(ui, "Ruling", |ui| {
        let mut lpi = ruling.get();
        let field = DragValue::new(&mut lpi).clamp_existing_to_range(false).range(10.0..=150.0).speed(0.25);
        let response = ui.add(field.suffix(" lpi").update_while_editing(false)).accessible_name("Ruling");
        response.changed().then(|| Lpi::new(lpi).ok()).flatten()
    })
}

/// A field for an angle, or a choice of those at hand; the new one if it was changed.
pub fn angle_ui(ui: &mut Ui, angle: Degrees, at_hand: &[Degrees]) -> Option<Degrees> {
    row(ui, "Angle", |ui| {
        if !at_hand.is_empty() {
            let mut now = angle;
            let said = format!("{angle} degrees");
            let list = ComboBox::from_id_salt("angle").selected_text(said).width(ui.available_width() - 8.0);
            list.show_ui(ui, |ui| {
                for one in at_hand {
                    ui.selectable_value(&mut now, *one, format!("{one} degrees"));
                }
            });
            return (now != angle).then_some(now);
        }
        let mut degrees = angle.get();
        let field = DragValue::new(&mut degrees).clamp_existing_to_range(false).range(-90.0..=90.0).speed(0.25);
        let response = ui.add(field.suffix(" degrees").update_while_editing(false)).accessible_name("Angle");
        response.changed().then(|| Degrees::new(degrees).ok()).flatten()
    })
}

/// A choice of dots with what belongs to each; the new one if it was changed.
pub fn dot_ui(ui: &mut Ui, dot: DotShape) -> Option<DotShape> {
    let mut now = dot;
    row(ui, "Dot", |ui| {
        ComboBox::from_id_salt("dot").selected_text(dot_label(&dot)).width(ui.available_width() - 8.0).show_ui(
            ui,
            |ui| {
                for kind in DotShape::kinds() {
                    let same = kind.name() == dot.name();
                    if ui.selectable_label(same, dot_label(&kind)).clicked() && !same {
                        now = dot.size_mm().map_or(kind, |size| kind.with_size(size));
                    }
                }
            },
        );
    });
    if let Some(size) = now.size_mm() {
        row(ui, "Dot size", |ui| {
            let mut mm = size.get();
            let field = DragValue::new(&mut mm).clamp_existing_to_range(false).range(DOT_SIZES_MM).speed(0.005);
            let field = field.max_decimals(3).suffix(" mm").update_while_editing(false);
            if ui.add(field).accessible_name("Dot size").on_hover_text("Side of every dot").changed()
                && let Ok(size) = Mm::new(mm)
            {
                now = now.with_size(size);
            }
        });
    }
    if let DotShape::Ellipse { first_join, second_join } = now {
        let mut joins = [first_join.get() * 100.0, second_join.get() * 100.0];
        for (name, at) in [("Joins at", 0), ("then at", 1)] {
            row(ui, name, |ui| {
                let field = DragValue::new(&mut joins[at]).clamp_existing_to_range(false).range(20.0..=80.0);
                ui.add(field.suffix(" %").max_decimals(0).update_while_editing(false)).accessible_name(name);
            });
        }
        joins[1] = joins[1].max(joins[0]);
        if let [Ok(first_join), Ok(second_join)] = joins.map(|join| Coverage::new(join / 100.0)) {
            now = DotShape::Ellipse { first_join, second_join };
        }
    }
    (now != dot).then_some(now)
}

fn dot_label(dot: &DotShape) -> &'static str {
    match dot {
        DotShape::Round => "round",
        DotShape::Euclidean => "euclidean",
        DotShape::Ellipse { .. } => "ellipse",
        DotShape::Square => "square",
        DotShape::Diamond => "diamond",
        DotShape::Line => "line",
        DotShape::BlueNoise { .. } => "stochastic, blue noise",
        DotShape::Diffusion { .. } => "stochastic, diffusion",
        DotShape::Index { .. } => "index squares",
    }
}

fn one_of_rules(ui: &mut Ui, now: &mut AngleRule, rule: AngleRule, text: &str, hint: &str) {
    if one_of(ui, *now == rule, text).on_hover_text(hint).clicked() {
        *now = rule;
    }
}

fn mesh_ui(ui: &mut Ui, job: &mut Job, screen: &ScreenName) {
    let now = job.run.mesh_of(screen).clone();
    row(ui, "Mesh", |ui| {
        ComboBox::from_id_salt("mesh").selected_text(&now.name).width(ui.available_width() - 8.0).show_ui(ui, |ui| {
            for mesh in job.run.meshes_to_choose().into_iter().cloned().collect::<Vec<_>>() {
                if ui.selectable_label(mesh.name == now.name, &mesh.name).clicked() {
                    if mesh == job.run.mesh {
                        job.run.meshes.remove(screen);
                    } else {
                        job.run.meshes.insert(screen.to_owned(), mesh);
                    }
                }
            }
        });
    });
}

/// Ruling, angle and dot of the whole job.
pub fn job_dots_ui(ui: &mut Ui, film: &mut FilmSettings) {
    film.ruling = ruling_ui(ui, film.ruling).unwrap_or(film.ruling);
    let before = film.angles;
    let mut rule = before;
    row(ui, "Angles", |ui| {
        one_of_rules(
            ui,
            &mut rule,
            AngleRule::Apart,
            "Each its own",
            "15 degrees apart: colour holds when register does not",
        );
        one_of_rules(
            ui,
            &mut rule,
            AngleRule::One,
            "One for all",
            "No two screens beat, but colour moves with register",
        );
    });
    let angle = angle_ui(ui, film.angle, &film.angles_at_hand);
    if rule != before || angle.is_some() {
        film.angle = angle.unwrap_or(film.angle);
        // Every screen gets a new angle, counted from this one.
        film.share_one_angle();
        film.angles = rule;
    }
    film.dot = dot_ui(ui, film.dot).unwrap_or(film.dot);
}
