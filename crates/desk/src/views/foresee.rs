//! Below the findings: register by hand, a good day beside a bad one, mesh and moire, print orders,
//! other garments, ink for the run, and the cautions of the garment.

use egui::{CollapsingHeader, DragValue, Grid, RichText, Slider, Ui, vec2};
use strikeoff_core::facts::{PressFacts, numbered_heads};
use strikeoff_core::job::Job;
use strikeoff_core::screens::joined;
use strikeoff_core::tune::{Edit, edits};

use crate::commands::Commands;
use crate::derived::tint_key;
use crate::state::State;
use crate::ui::format::trim;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button, quiet, row};
use crate::view_state::Moved;
use crate::view_state::Scratch;
use crate::views::change;
use crate::{Command, View};

/// All sections, shut at first.
pub fn sections_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    ui.add_space(8.0);
    section(ui, "Register", |ui| register_ui(ui, state, scratch, commands));
    section(ui, "How sure colours are", |ui| super::sure::sure_ui(ui, state, scratch, commands));
    section(ui, "Good day and bad day", |ui| days_ui(ui, scratch, commands));
    let Some(look) = state.outlook() else { return };
    let facts = &look.facts;
    section(ui, "Mesh and moire", |ui| moire_ui(ui, state, scratch, commands, facts));
    section(ui, "Heads and print order", |ui| orders_ui(ui, state, commands, facts));
    section(ui, "Other garments", |ui| garments_ui(ui, state));
    section(ui, "Minutes and money", |ui| {
        super::quote::quotes_ui(ui, state, scratch, 1);
        if plain_button(ui, "Quote for other quantities").clicked() {
            commands.push(Command::Sheet(Some(crate::Sheet::Quote)));
        }
    });
    section(ui, "Ink for the run", |ui| ink_ui(ui, state, commands, facts));
    section(ui, "Gain and build-up", |ui| gain_ui(ui, commands, facts));
    section(ui, "Cautions", |ui| {
        let p = palette(ui.ctx());
        for caution in &facts.cautions {
            ui.label(quiet(caution.clone(), p));
        }
    });
}

fn section(ui: &mut Ui, title: &str, add: impl FnOnce(&mut Ui)) {
    let p = palette(ui.ctx());
    CollapsingHeader::new(RichText::new(title).color(p.text).strong()).id_salt(title).show(ui, add);
}

/// Leaves a slider of the drawer as wide as its value leaves room.
fn beside_its_value(ui: &mut Ui) {
    ui.spacing_mut().slider_width = (ui.available_width() - 84.0).max(60.0);
}

/// One screen moved by hand: the shirt shows what comes to light.
fn register_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let names = state.screen_names();
    let mut moved = scratch.ahead.moved.clone().filter(|m| names.contains(&m.screen)).unwrap_or_else(|| Moved {
        screen: scratch.selected.clone().or(names.last().cloned()).unwrap_or_default(),
        mm: [0.0, 0.0],
    });
    let before = moved.clone();
    row(ui, "screen", |ui| {
        egui::ComboBox::from_id_salt("moved screen").selected_text(moved.screen.as_str()).width(150.0).show_ui(
            ui,
            |ui| {
                for name in &names {
                    ui.selectable_value(&mut moved.screen, name.clone(), name.as_str());
                }
            },
        );
    });
    for (axis, word) in [(0, "to the right"), (1, "down")] {
        row(ui, word, |ui| {
            beside_its_value(ui);
            ui.add(Slider::new(&mut moved.mm[axis], -0.5..=0.5).step_by(0.05).suffix(" mm").fixed_decimals(2));
        });
    }
    if moved.mm != [0.0, 0.0] && plain_button(ui, "Back in register").clicked() {
        moved.mm = [0.0, 0.0];
    }
    if moved != before {
        scratch.ahead.moved = Some(moved.clone());
        if scratch.view != View::Print {
            commands.push(Command::Look(View::Print));
        }
    }
    if let Some(look) = state.outlook() {
        for fact in &look.facts.screens {
            let text = match fact.fringe_from_mm {
                Some(mm) => format!("{}: a gap or fringe shows from {} mm", fact.screen, trim(mm, 1)),
                None => format!("{}: none up to 0.5 mm", fact.screen),
            };
            ui.label(quiet(text, p));
        }
    }
}

fn days_ui(ui: &mut Ui, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.label(quiet(
        "Screens are out of register to the right, down, left and up in turn, and print heavier and lighter in turn.",
        p,
    ));
    row(ui, "out of register", |ui| {
        beside_its_value(ui);
        ui.add(Slider::new(&mut scratch.ahead.bad_mm, 0.0..=0.5).step_by(0.05).suffix(" mm").fixed_decimals(2));
    });
    row(ui, "gain", |ui| {
        beside_its_value(ui);
        ui.add(Slider::new(&mut scratch.ahead.bad_points, 0.0..=20.0).step_by(1.0).suffix(" points"));
    });
    let on = scratch.against == Some(View::BadDay);
    let word = if on { "Stop comparing" } else { "Good day at the left, bad day at the right" };
    if plain_button(ui, word).clicked() {
        if on {
            commands.push(Command::Compare(None));
        } else {
            commands.extend([Command::Look(View::Print), Command::Compare(Some(View::BadDay))]);
        }
    }
}

fn moire_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands, facts: &PressFacts) {
    let p = palette(ui.ctx());
    let Some(job) = state.doc().map(|d| d.job.clone()) else { return };
    let chosen = scratch.selected.clone().unwrap_or_default();
    if let Some(fact) = facts.screens.iter().find(|f| f.screen == chosen) {
        let mesh = job.run.mesh_of(&chosen);
        let close_up = &state.derived.close_up;
        match close_up.current(&tint_key(&job, &chosen)).or(close_up.latest()) {
            Some(texture) => {
                ui.add(
                    egui::Image::new(texture)
                        .fit_to_exact_size(vec2(240.0, 240.0))
                        .alt_text(format!("A 30 % tint of {chosen} through its mesh, 25 mm wide")),
                );
            }
            None => {
                ui.allocate_space(vec2(240.0, 240.0));
            }
        }
        ui.label(quiet(
            format!(
                "{chosen}: a 30 % tint through {} ({:.0} threads an inch, {:.0} a cm), 25 mm wide",
                fact.mesh,
                mesh.threads_per_inch,
                mesh.threads_per_cm()
            ),
            p,
        ));
        ui.label(quiet(
            format!(
                "{:.1} threads a dot; widest band with the mesh {:.1} mm ({}), with the knit {:.1} mm",
                fact.mesh_to_ruling,
                fact.widest_beat_mm,
                if fact.beat_visible { "visible" } else { "not seen" },
                fact.knit_beat_mm
            ),
            p,
        ));
        ui.label(quiet(
            format!(
                "dots hold from {:.1} % on film, always from {:.1} %; strokes from {:.2} mm, gaps from {:.2} mm",
                fact.dots_hold[0] * 100.0,
                fact.dots_hold[1] * 100.0,
                fact.smallest_mm[0],
                fact.smallest_mm[1]
            ),
            p,
        ));
        ui.label(quiet(format!("advised mesh {}: {}", fact.advised_mesh, fact.advice), p));
        if fact.advised_mesh != fact.mesh
            && let Ok(mesh) = strikeoff_core::usage::Mesh::named(&fact.advised_mesh)
            && plain_button(ui, &format!("{chosen} on {}", mesh.name)).clicked()
        {
            let mut job = job.clone();
            let what = format!("{chosen} on {}", mesh.name);
            job.run.meshes.insert(chosen.clone(), mesh);
            commands.push(Command::change(job, what));
        }
    }
    let set: Vec<String> = facts.safest_angles_deg.iter().map(|a| trim(*a, 1)).collect();
    ui.label(quiet(
        format!("safest angle for all {}; of their own {}", trim(facts.safest_angle_deg, 1), set.join(", ")),
        p,
    ));
}

fn orders_ui(ui: &mut Ui, state: &State, commands: &mut Commands, facts: &PressFacts) {
    let p = palette(ui.ctx());
    ui.label(quiet(numbered_heads(&facts.heads).join(", "), p));
    if let Some(after) = &facts.best_flash_after {
        ui.label(quiet(format!("one more flash would help most after {after}"), p));
    }
    let Some(plans) = state.plans() else {
        ui.label(quiet("comparing orders", p));
        return;
    };
    let mark = |m: &strikeoff_core::preview::OrderMark| {
        format!("dE {:.2}, pick-up {:.1}, {} flashes", m.delta_e, m.pick_up, m.flashes)
    };
    ui.label(quiet(format!("now: {}", mark(&plans.present)), p));
    let mut take = None;
    for (at, best) in plans.best.iter().enumerate().filter(|(_, b)| b.order != plans.present.order) {
        ui.label(RichText::new(joined(&best.order)).small());
        ui.label(quiet(mark(best), p));
        let button = plain_button(ui, "Use this order");
        button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, format!("Use order {}", at + 1)));
        if button.clicked() {
            take = Some(best.order.clone());
        }
    }
    if let (Some(screens), Some(doc)) = (take, state.doc()) {
        let mut job = doc.job.clone();
        job.edits.push(strikeoff_core::tune::EditEntry::on(Edit::Order(edits::Order { screens })));
        commands.push(Command::change(job, "Print order"));
    }
}

fn garments_ui(ui: &mut Ui, state: &State) {
    let p = palette(ui.ctx());
    let Some(plans) = state.plans() else {
        ui.label(quiet("comparing garments", p));
        return;
    };
    if plans.swaps.is_empty() {
        ui.label(quiet("Add garments in the rail to see whether these screens serve them.", p));
    }
    for swap in &plans.swaps {
        ui.label(RichText::new(&swap.garment.name).strong());
        let verdict = if swap.changes.is_empty() { "these screens serve".to_owned() } else { swap.changes.join(" ") };
        ui.label(quiet(format!("shift {:.1}, 95 % under {:.1}: {verdict}", swap.mean_shift, swap.p95_shift), p));
    }
}

fn ink_ui(ui: &mut Ui, state: &State, commands: &mut Commands, facts: &PressFacts) {
    let p = palette(ui.ctx());
    let Some(before) = state.doc().map(|d| d.job.clone()) else { return };
    let mut job: Job = before.clone();
    row(ui, "shirts", |ui| {
        let by_hand = job.info.sizes.is_empty();
        ui.add_enabled(by_hand, DragValue::new(&mut job.info.quantity).range(0..=1_000_000))
            .on_disabled_hover_text("The sum of the sizes on the ticket");
    });
    ui.label(quiet(format!("{} with spares for {:.0} % misprints", facts.shirts, job.run.ink.spoilage * 100.0), p));
    let mut weighed = job.run.ink.weighed_g_per_shirt.unwrap_or(0.0);
    row(ui, "weighed", |ui| {
        ui.add(DragValue::new(&mut weighed).range(0.0..=200.0).speed(0.1).max_decimals(1).suffix(" g a shirt"))
            .accessible_name("weighed")
            .on_hover_text("All ink on one shirt: weigh it before and after. 0: not weighed");
    });
    job.run.ink.weighed_g_per_shirt = (weighed > 0.0).then_some(weighed);
    Grid::new("ink for the run").num_columns(4).spacing([8.0, 4.0]).striped(true).show(ui, |ui| {
        for head in ["screen", "to mix", "look every", "price a kg"] {
            ui.label(quiet(head, p));
        }
        ui.end_row();
        for ink in &facts.ink {
            ui.add(egui::Label::new(RichText::new(ink.screen.as_str()).small()).truncate());
            let hint = format!(
                "{:.1} g a shirt ({:.1} to {:.1}); run {:.0} g ({:.0} to {:.0}); theory {:.2} g a shirt; {:.0} g stay in the screen",
                ink.g_per_shirt.likely,
                ink.g_per_shirt.low,
                ink.g_per_shirt.high,
                ink.run_g.likely,
                ink.run_g.low,
                ink.run_g.high,
                ink.theory_g_per_shirt,
                job.run.ink.left_in_screen_g
            );
            ui.label(RichText::new(format!("{:.0} g", ink.mix_g)).small()).on_hover_text(hint);
            ui.label(RichText::new(format!("{} shirts", ink.check_every_shirts)).small());
            let mut price = job.run.ink.price_per_kg.get(&ink.screen).copied().unwrap_or(0.0);
            let field = DragValue::new(&mut price).range(0.0..=10_000.0).speed(0.5).max_decimals(2);
            ui.name_inputs(format!("Price per kg of {}", ink.screen), |ui| ui.add(field));
            if price > 0.0 {
                job.run.ink.price_per_kg.insert(ink.screen.clone(), price);
            } else {
                job.run.ink.price_per_kg.remove(&ink.screen);
            }
            ui.end_row();
        }
    });
    let priced: Vec<f64> = facts.ink.iter().filter_map(|i| i.cost).collect();
    if !priced.is_empty() {
        ui.label(quiet(format!("ink of {} priced screens: {:.2}", priced.len(), priced.iter().sum::<f64>()), p));
    }
    let from = if job.run.ink.weighed_g_per_shirt.is_some() {
        "one weighed shirt"
    } else {
        "mesh volume and usual factors, assumed"
    };
    ui.label(quiet(format!("from {from}"), p));
    if job != before {
        commands.push(change(ui, job, "Ink for the run"));
    }
}

fn gain_ui(ui: &mut Ui, commands: &mut Commands, facts: &PressFacts) {
    let p = palette(ui.ctx());
    ui.label(quiet("Ten points of gain on one screen move the print by, CIEDE2000:", p));
    for gain in &facts.gain {
        ui.label(quiet(format!("{}: {:.1} on average, 95 % under {:.1}", gain.screen, gain.mean, gain.p95), p));
    }
    ui.label(quiet(
        format!(
            "ink in one place {:.0} % at most, {:.0} % on average; largest heavy patch {:.0} cm2",
            facts.ink_most_mean_pct[0], facts.ink_most_mean_pct[1], facts.largest_patch_cm2
        ),
        p,
    ));
    ui.label(quiet(format!("Findings and proofs: {} The table's own picture takes three bands.", facts.optics), p));
    if plain_button(ui, "Build-up on the table").clicked() {
        commands.push(Command::Look(View::BuildUp));
    }
}
