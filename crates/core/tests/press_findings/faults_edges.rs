//! Faults of edges: register, and strokes and gaps that the mesh cannot hold.

use strikeoff_core::findings::{Change, Kind, Severity};

use crate::made::*;

fn is_edit(change: &Change) -> bool {
    matches!(change, Change::Edit { .. })
}

fn is_mesh(change: &Change) -> bool {
    matches!(change, Change::Mesh { .. })
}

pub fn edges() -> Vec<Fault> {
    // At 200 ppi a pixel is 0.127 mm: lines of one pixel, 2.54 mm apart.
    let sheet = Sheet { ppi: 200.0, ..USUAL };
    let px = 25.4 / 200.0;
    let reversed = without(
        rect(20.0 * px * 8.0, 20.0, 100.0, 140.0),
        lines(20.0 * px * 8.0, 30.0, 95.0, 130.0, 20.0 * px, px * 0.99),
    );
    vec![
        Fault {
            name: "white base unchoked",
            made: make(BLACK, vec![("Base", disc(60.0, 80.0, 40.0)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base"),
            kind: Kind::Registration,
            severity: Severity::Fault,
            screens: &["Base"],
            area: Some(([20.0, 40.0, 100.0, 120.0], 0.5)),
            // The disc is 80 mm across; lines are counted across the shift.
            number: (55.0, 90.0),
            fix: Some(is_edit),
        },
        Fault {
            name: "colours that butt without trap",
            made: make(WHITE, vec![("Red", rect(20.0, 20.0, 60.0, 140.0)), ("Blue", rect(60.0, 20.0, 100.0, 140.0))]),
            kind: Kind::Registration,
            severity: Severity::Fault,
            screens: &[],
            area: Some(([58.0, 20.0, 62.0, 140.0], 0.0)),
            number: (40.0, 125.0),
            fix: Some(is_edit),
        },
        Fault {
            name: "hairlines on a coarse mesh",
            // One pixel of 0.169 mm; 110/80 mesh needs two threads of 80 um and an opening of 151.
            made: make(WHITE, vec![("Black", lines(20.0, 20.0, 100.0, 140.0, 5.0, 25.4 / 150.0 * 0.99))])
                .on_mesh("110/80"),
            kind: Kind::FineDetail,
            severity: Severity::Fault,
            screens: &["Black"],
            area: Some(([20.0, 20.0, 100.0, 140.0], 0.7)),
            // 16 lines of 120 mm.
            number: (1820.0, 2020.0),
            fix: Some(is_mesh),
        },
        Fault {
            name: "reversed lines of 0.127 mm",
            made: make_on(sheet, WHITE, vec![("Black", reversed)]),
            kind: Kind::FineDetail,
            severity: Severity::Fault,
            screens: &["Black"],
            area: Some(([20.0, 30.0, 96.0, 130.0], 0.8)),
            // 30 lines of 100 mm.
            number: (2700.0, 3100.0),
            fix: Some(is_edit),
        },
    ]
}
