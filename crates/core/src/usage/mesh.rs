//! Mesh: threads and openings, and the shelf of usual ones. Catalogue figures are kept as they
//! were published and never recomputed (makers round, and woven thread is not round); where a
//! figure is missing, plain geometry stands in and says so.

use std::sync::OnceLock;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::units::{Lpi, MM_PER_INCH};

/// Where a mesh's figures come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MeshStatus {
    /// Read in a published table.
    Published,
    /// From memory of usual catalogues: good to about 25 %.
    Memory,
    /// Measured or entered by the shop from its own supplier's sheet.
    Own,
}

/// One mesh. Absent figures were not published.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mesh {
    /// Threads per inch and thread, as the trade writes it: "230/48".
    #[schemars(transform = table::MESH_NAME.schema())]
    pub name: String,
    /// Threads per inch.
    #[schemars(transform = table::THREADS.schema())]
    pub threads_per_inch: f64,
    /// Thread diameter in micrometres, before weaving.
    #[schemars(transform = table::THREAD.schema())]
    pub thread_um: f64,
    /// Opening in micrometres.
    #[schemars(transform = table::OPENING.schema())]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening_um: Option<f64>,
    /// Open area in percent.
    #[schemars(transform = table::OPEN_AREA.schema())]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub open_area_pct: Option<f64>,
    /// Fabric thickness in micrometres.
    #[schemars(transform = table::THICKNESS.schema())]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thickness_um: Option<f64>,
    /// Theoretical ink volume in cm3/m2 (which is micrometres).
    #[schemars(transform = table::VOLUME.schema())]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_cm3_m2: Option<f64>,
    /// Where the figures come from.
    pub status: MeshStatus,
    /// In words.
    #[schemars(transform = table::LINE.schema())]
    #[serde(default)]
    pub source: String,
}

impl Mesh {
    /// Threads per centimetre.
    pub fn threads_per_cm(&self) -> f64 {
        self.threads_per_inch / 2.54
    }

    /// Distance of threads in micrometres.
    pub fn pitch_um(&self) -> f64 {
        MM_PER_INCH * 1000.0 / self.threads_per_inch
    }

    /// Opening in micrometres: as published, or `pitch - thread`.
    pub fn opening_um(&self) -> f64 {
        self.opening_um.unwrap_or((self.pitch_um() - self.thread_um).max(1.0))
    }

    /// Film coverage, 0..=1, of round dots at a ruling whose diameter is `um` micrometres.
    pub fn tone_of_dot(um: f64, ruling: Lpi) -> f64 {
        let pitch_um = MM_PER_INCH * 1000.0 / ruling.get();
        (std::f64::consts::PI / 4.0 * (um / pitch_um).powi(2)).min(1.0)
    }

    /// Open area, 0..1: as published, or `(w / (w + d))^2`.
    pub fn open_area(&self) -> f64 {
        let w = self.opening_um();
        self.open_area_pct.map_or((w / (w + self.thread_um)).powi(2), |pct| pct / 100.0)
    }

    /// Fabric thickness in micrometres: as published, or 1.55 threads (published rows have
    /// 1.48 to 1.58).
    pub fn thickness_um(&self) -> f64 {
        self.thickness_um.unwrap_or(1.55 * self.thread_um)
    }

    /// Theoretical ink volume in cm3/m2: as published, or open area x thickness.
    pub fn volume_cm3_m2(&self) -> f64 {
        self.volume_cm3_m2.unwrap_or(self.open_area() * self.thickness_um())
    }

    /// Whether every figure used stands in a published table or comes from the shop itself.
    pub fn is_documented(&self) -> bool {
        let complete = self.opening_um.is_some() && self.volume_cm3_m2.is_some();
        matches!(self.status, MeshStatus::Published | MeshStatus::Own) && complete
    }

    /// Diameter in micrometres of a dot that always holds: two threads and one opening
    /// (common practice, from memory; other hands say one thread and two openings).
    pub fn safe_dot_um(&self) -> f64 {
        2.0 * self.thread_um + self.opening_um()
    }

    /// Diameter in micrometres under which a dot often finds no thread to hold to: one thread
    /// and one opening (common practice, from memory).
    pub fn marginal_dot_um(&self) -> f64 {
        self.thread_um + self.opening_um()
    }

    /// Wet deposit in micrometres by the rules of "How Much Ink Do You Need?" (Screen Printing
    /// magazine, April 2000, Table 1) for plain weave; a second opinion beside the volume.
    pub fn wet_deposit_um(&self) -> f64 {
        let (per_um, d, f) = (self.threads_per_cm() / 1e4, self.thread_um, self.thickness_um());
        match self.threads_per_cm() {
            n if n < 43.0 => 1.82 * d * (1.0 - per_um * d).powi(2),
            n if n < 140.0 => 0.285 * f,
            _ => 0.35 * f,
        }
    }

    /// From a name on the shelf ("230/48"), or from "count/thread" of any other mesh, whose
    /// figures are then geometry.
    pub fn named(name: &str) -> Result<Self, MeshError> {
        let wanted = name.trim();
        if let Some(mesh) = mesh_shelf().iter().find(|m| m.name == wanted) {
            return Ok(mesh.clone());
        }
        let bad = || MeshError { name: name.to_owned() };
        let (count, thread) = wanted.split_once('/').ok_or_else(bad)?;
        let count: f64 = count.trim().parse().map_err(|_| bad())?;
        let thread: f64 = thread.trim().parse().map_err(|_| bad())?;
        let pitch = MM_PER_INCH * 1000.0 / count;
        if !(10.0..=700.0).contains(&count) || !(5.0..pitch * 0.95).contains(&thread) {
            return Err(bad());
        }
        Ok(Self {
            name: wanted.to_owned(),
            threads_per_inch: count,
            thread_um: thread,
            opening_um: None,
            open_area_pct: None,
            thickness_um: None,
            volume_cm3_m2: None,
            status: MeshStatus::Own,
            source: "count and thread as entered; the rest is geometry".to_owned(),
        })
    }
}

impl Default for Mesh {
    /// 230/48, the usual mesh for halftones on garments (common practice).
    fn default() -> Self {
        mesh_shelf().iter().find(|m| m.name == "230/48").cloned().unwrap_or_else(|| unreachable!())
    }
}

/// A mesh that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{name}\" is not a mesh; write threads per inch and thread in micrometres, for example 230/48")]
pub struct MeshError {
    name: String,
}

/// The usual meshes, coarse to fine.
pub fn mesh_shelf() -> &'static [Mesh] {
    static SHELF: OnceLock<Vec<Mesh>> = OnceLock::new();
    SHELF.get_or_init(|| include_str!("meshes.csv").lines().skip(1).filter_map(row).collect())
}

fn row(line: &str) -> Option<Mesh> {
    let cells: Vec<&str> = line.splitn(9, ',').collect();
    let number = |at: usize| cells.get(at)?.parse::<f64>().ok();
    Some(Mesh {
        name: (*cells.first()?).to_owned(),
        threads_per_inch: number(1)?,
        thread_um: number(2)?,
        opening_um: number(3),
        open_area_pct: number(4),
        thickness_um: number(5),
        volume_cm3_m2: number(6),
        status: if *cells.get(7)? == "published" { MeshStatus::Published } else { MeshStatus::Memory },
        source: (*cells.get(8)?).to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    fn reference(name: &str) -> Vec<Vec<String>> {
        let path = format!("{}/../../tests/fixtures/reference/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        text.lines().skip(2).map(|line| line.split(',').map(str::to_owned).collect()).collect()
    }

    #[test]
    fn geometry_follows_the_computed_table() {
        let mut rows = 0;
        for row in reference("mesh_computed.csv") {
            let v: Vec<f64> = row.iter().map(|v| v.parse().unwrap()).collect();
            let mesh = Mesh {
                name: String::new(),
                threads_per_inch: v[0] * 2.54,
                thread_um: v[2],
                opening_um: None,
                open_area_pct: None,
                thickness_um: Some(1.5 * v[2]),
                volume_cm3_m2: None,
                status: MeshStatus::Own,
                source: String::new(),
            };
            assert_abs_diff_eq!(mesh.opening_um(), v[3], epsilon = 0.051);
            assert_abs_diff_eq!(mesh.open_area() * 100.0, v[4], epsilon = 0.051);
            assert_abs_diff_eq!(mesh.volume_cm3_m2(), v[6], epsilon = 0.051);
            rows += 1;
        }
        assert_eq!(rows, 17);
    }

    /// Rows read in publications are on the shelf digit for digit; rows from memory only have to
    /// lie within 25 % of geometry.
    #[test]
    fn shelf_keeps_published_rows_as_published() {
        let table = reference("mesh_table.csv");
        let number = |v: &str| v.parse::<f64>().ok();
        let complete: Vec<_> =
            table.iter().filter(|r| r[8] == "seen" && r[0] == "90" && number(&r[6]).is_some()).collect();
        assert_eq!(complete.len(), 3);
        for row in complete {
            let mesh = Mesh::named(&format!("{}/{}", row[1], row[2])).unwrap();
            assert_eq!(mesh.status, MeshStatus::Published);
            assert_eq!(
                [mesh.opening_um, mesh.open_area_pct, mesh.thickness_um, mesh.volume_cm3_m2],
                [number(&row[3]), number(&row[4]), number(&row[5]), number(&row[6])]
            );
            // And geometry is near what was published.
            assert_relative_eq!(mesh.pitch_um() - mesh.thread_um, mesh.opening_um(), max_relative = 0.03);
        }
        for mesh in mesh_shelf().iter().filter(|m| m.status == MeshStatus::Memory) {
            let geometry = mesh.pitch_um() - mesh.thread_um;
            assert_relative_eq!(mesh.opening_um(), geometry, max_relative = 0.25);
        }
    }

    /// "How Much Ink Do You Need?", Screen Printing magazine, April 2000, Figure 1: 39/cm with
    /// 55 um thread gives 61.76 um; 120/cm of 50 um fabric gives 14.25 um.
    #[test]
    fn wet_deposit_follows_the_worked_examples() {
        let mut mesh = Mesh::named("99.06/55").unwrap();
        assert_abs_diff_eq!(mesh.wet_deposit_um(), 61.763, epsilon = 0.01);
        mesh = Mesh::named("304.8/34").unwrap();
        mesh.thickness_um = Some(50.0);
        assert_abs_diff_eq!(mesh.wet_deposit_um(), 14.25, epsilon = 1e-9);
    }

    /// Common practice, no source: 45 lpi on 230 mesh is a ratio of 5.1.
    #[test]
    fn forty_five_on_two_thirty_is_five_to_one() {
        assert_abs_diff_eq!(Mesh::default().threads_per_inch / 45.0, 5.1, epsilon = 0.05);
    }

    #[test]
    fn a_misspelt_mesh_says_how_to_write_one() {
        for bad in ["230", "fine", "230/", "230/200", "0/48"] {
            assert!(Mesh::named(bad).unwrap_err().to_string().contains("230/48"), "{bad}");
        }
    }
}
