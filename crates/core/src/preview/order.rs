//! Print orders. Every order that keeps the pinned screens in place (base first, white last) is
//! judged by the look that these same screens give in it, and by what they pick up wet.

use crate::screens::ScreenName;
use rayon::prelude::*;
use serde::Serialize;

use crate::color::{Lab, ciede2000, lab_from_linear};
use crate::facts::{Survey, taint};
use crate::ink::InkRole;
use crate::job::Job;
use crate::prep::Prepared;
use crate::press::Optics;
use crate::screens::Screens;
use crate::{Cancelled, Progress};

/// Orders of more screens than this are searched by swaps from the present one.
const ALL_UP_TO: usize = 8;

/// One order with its marks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderMark {
    /// Screens, first down first.
    pub order: Vec<ScreenName>,
    /// Mean CIEDE2000 of the proof against the art.
    pub delta_e: f64,
    /// Sum of pick-up risks (share of ink that lands wet, times its taint).
    pub pick_up: f64,
    /// Flashes and cool-downs that this order needs between screens.
    pub flashes: usize,
    /// What orders are ranked by: `delta_e + pick_up / 4 + flashes / 4`. Our weighing.
    pub mark: f64,
}

/// The best `most` orders, and the present one's mark. Flashes stay with their screens; a flash
/// after the last screen needs no head.
pub fn search_orders(
    job: &Job,
    prepared: &Prepared,
    screens: &Screens,
    most: usize,
    progress: &Progress,
) -> Result<(OrderMark, Vec<OrderMark>), Cancelled> {
    let survey = Survey::new(job, prepared, screens, progress)?;
    progress.step("orders", 0.0)?;
    let judge = Judge::new(&survey);
    let n = survey.len();
    let present: Vec<usize> = (0..n).collect();
    let (front, middle, back) = pins(screens);
    let mut marks: Vec<(f64, Vec<usize>)> = if middle.len() <= ALL_UP_TO {
        let mut all = Vec::new();
        permute(&mut middle.clone(), 0, &mut |m| {
            all.push(front.iter().chain(m).chain(&back).copied().collect::<Vec<usize>>());
        });
        all.into_par_iter().map(|order| (judge.mark(&order).mark, order)).collect()
    } else {
        swaps(&judge, &front, middle, &back, progress)?
    };
    marks.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    progress.step("orders", 1.0)?;
    Ok((judge.mark(&present), marks.into_iter().take(most).map(|(_, order)| judge.mark(&order)).collect()))
}

/// Screens that must come first, may move, must come last.
fn pins(screens: &Screens) -> (Vec<usize>, Vec<usize>, Vec<usize>) {
    let role = |i: usize| screens.list[i].ink.role;
    let n = screens.list.len();
    let front: Vec<usize> = (0..n).filter(|&i| role(i) == InkRole::BaseWhite).collect();
    let back: Vec<usize> = (0..n).filter(|&i| role(i) == InkRole::White && i + 1 == n).collect();
    let middle = (0..n).filter(|i| !front.contains(i) && !back.contains(i)).collect();
    (front, middle, back)
}

fn permute(items: &mut Vec<usize>, from: usize, visit: &mut impl FnMut(&[usize])) {
    if from == items.len() {
        visit(items);
        return;
    }
    for at in from..items.len() {
        items.swap(from, at);
        permute(items, from + 1, visit);
        items.swap(from, at);
    }
}

/// Best swap after best swap until none helps.
fn swaps(
    judge: &Judge<'_>,
    front: &[usize],
    mut middle: Vec<usize>,
    back: &[usize],
    progress: &Progress,
) -> Result<Vec<(f64, Vec<usize>)>, Cancelled> {
    let whole = |m: &[usize]| front.iter().chain(m).chain(back).copied().collect::<Vec<usize>>();
    let mut found = vec![(judge.mark(&whole(&middle)).mark, whole(&middle))];
    loop {
        progress.step("orders", 0.5)?;
        let pairs: Vec<(usize, usize)> =
            (0..middle.len()).flat_map(|a| (a + 1..middle.len()).map(move |b| (a, b))).collect();
        let mut tried: Vec<(f64, Vec<usize>)> = pairs
            .into_par_iter()
            .map(|(a, b)| {
                let mut m = middle.clone();
                m.swap(a, b);
                (judge.mark(&whole(&m)).mark, m)
            })
            .collect();
        tried.sort_by(|a, b| a.0.total_cmp(&b.0));
        match tried.into_iter().next() {
            Some((mark, m)) if mark < found[found.len() - 1].0 - 1e-9 => {
                middle = m;
                found.push((mark, whole(&middle)));
            }
            _ => return Ok(found),
        }
    }
}

struct Judge<'a> {
    survey: &'a Survey<'a>,
    /// Sampled blocks: coverages and the art's colour.
    samples: Vec<(Vec<f32>, Lab)>,
    /// Pick-up risk of screen `above` over wet `below`, `[below][above]`.
    risk: Vec<Vec<f64>>,
}

impl<'a> Judge<'a> {
    fn new(survey: &'a Survey<'a>) -> Self {
        let n = survey.len();
        let orders: usize = (1..=n.min(ALL_UP_TO)).product::<usize>().max(1);
        let most = (4_000_000 / orders).clamp(80, 1500);
        let printed: Vec<usize> =
            (0..survey.blocks()).filter(|&at| survey.small.iter().any(|p| p.data()[at] > 655)).collect();
        let step = printed.len().div_ceil(most).max(1);
        let mut a = vec![0.0f32; n];
        let samples = printed
            .iter()
            .step_by(step)
            .map(|&at| {
                survey.coverages(at, &mut a);
                (a.clone(), lab_from_linear(survey.target[at]))
            })
            .collect();
        let mut both = vec![vec![0.0f64; n]; n];
        for at in printed.iter().step_by(4) {
            survey.coverages(*at, &mut a);
            for i in 0..n {
                for j in 0..n {
                    both[i][j] += f64::from(a[i] * a[j]);
                }
            }
        }
        let ink: Vec<f64> = (0..n)
            .map(|j| printed.iter().step_by(4).map(|&at| f64::from(survey.small[j].data()[at]) / 65535.0).sum())
            .collect();
        let risk = (0..n)
            .map(|i| {
                (0..n)
                    .map(|j| {
                        let (below, above) = (&survey.screens.list[i].ink, &survey.screens.list[j].ink);
                        if i == j || ink[j] == 0.0 { 0.0 } else { both[i][j] / ink[j] * taint(above, below) }
                    })
                    .collect()
            })
            .collect();
        Self { survey, samples, risk }
    }

    fn mark(&self, order: &[usize]) -> OrderMark {
        let (job, list) = (self.survey.job, &self.survey.screens.list);
        let optics =
            Optics::of_inks(&job.ground(), order.iter().map(|&i| (list[i].name.as_str(), &list[i].ink, list[i].hits)));
        let mut a = vec![0.0f32; order.len()];
        let mut sum = 0.0;
        for (coverages, target) in &self.samples {
            for (to, &from) in a.iter_mut().zip(order) {
                *to = coverages[from];
            }
            sum += f64::from(ciede2000(lab_from_linear(optics.reflectance(&a)), *target));
        }
        let delta_e = sum / self.samples.len().max(1) as f64;
        let (mut pick_up, mut flashes) = (0.0, 0);
        for (at, &above) in order.iter().enumerate() {
            for &below in order[..at].iter().rev() {
                if job.press.stops.contains_key(&list[below].name) {
                    break;
                }
                pick_up += self.risk[below][above];
            }
            flashes += usize::from(at + 1 < order.len() && job.press.stops.contains_key(&list[above].name));
        }
        OrderMark {
            order: order.iter().map(|&i| list[i].name.clone()).collect(),
            delta_e,
            pick_up,
            flashes,
            mark: delta_e + pick_up / 4.0 + flashes as f64 / 4.0,
        }
    }
}
