//! What will happen on press, looked at beside the proof: findings and plain facts on a lane of
//! their own as soon as the full size stands still, orders and other garments when the drawer is
//! open. A newer job stops the check that runs.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::{ColorImage, Context, Rect, TextureHandle, vec2};
use strikeoff_core::Progress;
use strikeoff_core::findings::{Outlook, outlook};
use strikeoff_core::ink::Garment;
use strikeoff_core::job::Job;
use strikeoff_core::preview::{Drift, GarmentSwap, OrderMark, bad_day, moire_close_up, search_orders, swap_garments};

use crate::chain::Level;
use crate::work::{Lane, Manner, let_go};
use crate::{View, Workbench, shirt};

/// A job and its screens to look ahead on.
pub struct Ahead {
    level: Arc<Level>,
    job: Job,
    garments: Vec<Garment>,
    stamp: u64,
}

/// Other ways to run the job.
pub struct Plans {
    /// The present order's mark.
    pub present: OrderMark,
    /// The best orders.
    pub best: Vec<OrderMark>,
    /// The same screens on the document's other garments.
    pub swaps: Vec<GarmentSwap>,
}

/// A screen moved by hand in the register view.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The screen.
    pub screen: String,
    /// Right and down in mm.
    pub mm: [f64; 2],
}

/// Everything the drawer shows.
pub struct Foresight {
    /// Whether the drawer is open.
    pub open: bool,
    /// Findings and facts, of the job state with this number.
    pub outlook: Option<(u64, Arc<Outlook>)>,
    /// Orders and garments, of the job state with this number.
    pub plans: Option<(u64, Plans)>,
    /// The finding that is shown on the table, with its map.
    pub shown: Option<(usize, Option<TextureHandle>)>,
    /// A part of the table that is to be brought into sight.
    pub bring: Option<Rect>,
    /// The screen that stands off, if one does.
    pub moved: Option<Moved>,
    /// How far screens stand off on a bad day, mm.
    pub bad_mm: f64,
    /// Points of gain by which they differ.
    pub bad_points: f64,
    /// The close-up of a tint through the mesh, for the screen and settings in the key.
    pub close_up: Option<(String, TextureHandle)>,
    check: Lane<Ahead, (u64, Outlook)>,
    plan: Lane<Ahead, (u64, Plans)>,
    asked_check: u64,
    asked_plan: (u64, usize),
    ctx: Context,
}

impl Foresight {
    /// Starts the lanes.
    pub fn new(ctx: &Context) -> Self {
        let check = Lane::new("check", ctx, Manner::StopAtOnce, |ahead: Ahead, progress: &Progress| {
            let look = outlook(&ahead.job, &ahead.level.prepared, &ahead.level.screens, progress).ok()?;
            Some((ahead.stamp, look))
        });
        let plan = Lane::new("plan", ctx, Manner::StopAtOnce, |ahead: Ahead, progress: &Progress| {
            let Level { prepared, screens } = &*ahead.level;
            let (present, best) = search_orders(&ahead.job, prepared, screens, 3, progress).ok()?;
            let swaps = swap_garments(&ahead.job, prepared, screens, &ahead.garments, progress).ok()?;
            Some((ahead.stamp, Plans { present, best, swaps }))
        });
        Self {
            open: false,
            outlook: None,
            plans: None,
            shown: None,
            bring: None,
            moved: None,
            bad_mm: 0.2,
            bad_points: 8.0,
            close_up: None,
            check,
            plan,
            asked_check: 0,
            asked_plan: (0, 0),
            ctx: ctx.clone(),
        }
    }

    /// Another document comes: nothing of the old one stays.
    pub fn forget(&mut self) {
        self.cancel();
        let_go((self.outlook.take(), self.plans.take()));
        self.shown = None;
        self.moved = None;
    }

    /// Whether nothing is being checked or compared.
    pub fn is_idle(&self) -> bool {
        self.check.is_idle() && self.plan.is_idle()
    }

    /// Stops what runs.
    pub fn cancel(&self) {
        self.check.cancel();
        self.plan.cancel();
    }

    /// The close-up of a 30 % tint of a screen through its mesh, 25 mm wide.
    pub fn close_up(&mut self, job: &Job, screen: &str) -> TextureHandle {
        let (ruling, angle, _) = job.film.of_screen(screen);
        let mesh = job.run.mesh_of(screen);
        let key = format!("{} {ruling} {angle}", mesh.name);
        if let Some((old, texture)) = &self.close_up
            && *old == key
        {
            return texture.clone();
        }
        let px = 240;
        let plane = moire_close_up(mesh, ruling, angle.get(), 0.3, 25.0, px);
        // A tint lets 0 to about a third of the ink through: stretched so that beats can be judged.
        let most = f32::from(plane.data().iter().copied().max().unwrap_or(1).max(1));
        let grey: Vec<u8> = plane.data().iter().map(|&v| 255 - (f32::from(v) / most * 235.0) as u8).collect();
        let image = ColorImage::from_gray([px, px], &grey);
        let texture = self.ctx.load_texture("moire close-up", image, egui::TextureOptions::LINEAR);
        self.close_up = Some((key, texture.clone()));
        texture
    }
}

impl Workbench {
    /// Takes in what is ready and asks for what is missing.
    pub(crate) fn ask_foresight(&mut self) {
        if let Some(answer) = self.foresight.check.poll() {
            let (stamp, look) = answer.value;
            let_go(self.foresight.outlook.replace((stamp, Arc::new(look))));
            if self.foresight.shown.is_some() {
                self.foresight.shown = None;
            }
        }
        if let Some(answer) = self.foresight.plan.poll() {
            let_go(self.foresight.plans.replace(answer.value));
        }
        if self.foresight.asked_check != 0 && self.foresight.asked_check != self.stamp {
            // The job moved on: what runs is about an old one.
            self.foresight.cancel();
            self.foresight.asked_check = 0;
            self.foresight.asked_plan = (0, 0);
        }
        let (Some(doc), Some(full)) = (&self.doc, self.current_full()) else { return };
        let ahead = || Ahead {
            level: full.levels[0].clone(),
            job: doc.job.clone(),
            garments: doc.garments.iter().filter(|g| **g != doc.job.garment).cloned().collect(),
            stamp: self.stamp,
        };
        let mut asked = None;
        if self.foresight.asked_check != self.stamp {
            self.foresight.check.request(ahead());
            asked = Some(self.foresight.asked_plan);
        }
        let plan = (self.stamp, doc.garments.len());
        if self.foresight.open && self.foresight.asked_plan != plan && self.findings_ready() {
            self.foresight.plan.request(ahead());
            asked = Some(plan);
        }
        if let Some(plan) = asked {
            self.foresight.asked_check = self.stamp;
            self.foresight.asked_plan = plan;
        }
    }

    /// Findings and facts of the job as it stands.
    pub(crate) fn current_outlook(&self) -> Option<Arc<Outlook>> {
        self.foresight.outlook.as_ref().filter(|(stamp, _)| *stamp == self.stamp).map(|(_, look)| look.clone())
    }

    /// Whether the job as it stands has been checked.
    pub fn findings_ready(&self) -> bool {
        self.foresight.outlook.as_ref().is_some_and(|(stamp, _)| *stamp == self.stamp)
    }

    /// Whether orders and garments of the job as it stands have been compared.
    pub fn plans_ready(&self) -> bool {
        self.foresight.plans.as_ref().is_some_and(|(stamp, _)| *stamp == self.stamp)
    }

    /// The second view right of the divider.
    pub fn against(&self) -> Option<View> {
        self.looking.against
    }

    /// What was found, in words: for tests and the smoke run.
    pub fn findings(&self) -> Vec<String> {
        self.current_outlook().iter().flat_map(|look| look.findings.iter().map(|f| f.what.clone())).collect()
    }

    /// Puts a finding's map on the table and brings its place into sight.
    pub(crate) fn show_finding(&mut self, at: Option<usize>) {
        self.foresight.shown = None;
        let (Some(at), Some(look)) = (at, self.current_outlook()) else { return };
        let Some(finding) = look.findings.get(at) else { return };
        let texture = finding.place.as_ref().map(|place| {
            let (w, h) = (place.map.width(), place.map.height());
            // A veil over the print, so that the risk stands out of colours like its own.
            let (veil, risk) = ([0x20i32, 0x20, 0x24, 0x78], [0xff, 0x4f, 0xae, 0xe0]);
            let spot = |&v: &u8| {
                let [r, g, b, a] =
                    std::array::from_fn(|i| (veil[i] as f32 + (risk[i] - veil[i]) as f32 * f32::from(v) / 255.0) as u8);
                egui::Color32::from_rgba_unmultiplied(r, g, b, a)
            };
            let pixels = place.map.data().iter().map(spot).collect();
            self.ctx.load_texture("finding", ColorImage::new([w, h], pixels), egui::TextureOptions::NEAREST)
        });
        if texture.is_some() && !self.looking.view.on_shirt() {
            self.looking.view = View::Print;
        }
        if let Some(name) = finding.screens.first()
            && self.screen_names().contains(name)
        {
            self.looking.selected = Some(name.clone());
        }
        self.foresight.shown = Some((at, texture));
        if let (Some(place), Some(proxy)) = (&finding.place, &self.proxy) {
            let print = shirt::print_rect_mm(proxy.pyramid.levels[0].prepared.print_size_mm);
            let [left, top, width, height] = place.region_mm.map(|mm| mm as f32);
            self.foresight.bring = Some(Rect::from_min_size(print.min + vec2(left, top), vec2(width, height)));
        }
    }

    /// How the screens stand in a view: moved by hand in the print, each way on the bad day.
    pub(crate) fn drifts_of(&self, view: View) -> BTreeMap<String, Drift> {
        match view {
            View::Print => {
                let moved = self.foresight.moved.iter().filter(|m| m.mm != [0.0, 0.0]);
                moved.map(|m| (m.screen.clone(), Drift { shift_mm: m.mm, points: 0.0 })).collect()
            }
            View::BadDay => {
                let drift = bad_day(self.foresight.bad_mm, self.foresight.bad_points);
                self.screen_names().into_iter().enumerate().map(|(at, name)| (name, drift(at))).collect()
            }
            _ => BTreeMap::new(),
        }
    }
}
