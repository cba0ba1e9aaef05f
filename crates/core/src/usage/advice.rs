//! Mesh advice. By what a screen does: published job rules (supply-house page: 110 for a heavy
//! base, 156 for general printing on light, 230 for a tonal base, 305 for tonal colours over it),
//! then as fine as the ruling asks for.

use super::Mesh;
use crate::ink::InkRole;
use crate::units::Lpi;

/// Mesh for a screen, and why. `tonal` is the share of its inked area that is neither empty nor
/// solid; `meshes` are those to choose from, coarse to fine. The finest there is, where none is fine enough.
pub fn advise_mesh(role: InkRole, tonal: f64, ruling: Lpi, white_garment: bool, meshes: &[&Mesh]) -> (Mesh, String) {
    let flat = tonal < 0.15;
    let base = matches!(role, InkRole::BaseWhite);
    let (least, why) = match (base, flat) {
        (true, true) => (110.0, "solid base: a heavy, opaque deposit"),
        (true, false) => (225.0, "tonal base: dots and still enough white"),
        (false, true) if white_garment => (156.0, "flat colour on light fabric"),
        (false, true) => (195.0, "flat colour over a base"),
        (false, false) if white_garment => (225.0, "tones on light fabric: dots with a fair deposit"),
        (false, false) => (230.0, "tones over a base: small dots, thin wet layers"),
    };
    // A tone wants four threads and more to a dot (published: 3.5 to 5).
    let for_ruling = if flat { 0.0 } else { 4.0 * ruling.get() };
    let count = f64::max(least, for_ruling);
    let mesh = meshes
        .iter()
        .find(|m| m.threads_per_inch >= count)
        .or(meshes.last())
        .map_or_else(Mesh::default, |&m| m.clone());
    let why = if for_ruling > least { format!("{why}; 4 threads a dot at {ruling} lpi") } else { why.to_owned() };
    (mesh, why)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::usage::choose_from;

    /// Published job rules (supply-house page, screen_rules): 110 heavy base, 156 general print on
    /// light, 230 base for simulated process.
    #[test]
    fn advice_follows_published_job_rules() {
        let (lpi, shelf) = (Lpi::new(45.0).unwrap(), choose_from(&[]));
        assert_eq!(advise_mesh(InkRole::BaseWhite, 0.0, lpi, false, &shelf).0.name, "110/80");
        assert_eq!(advise_mesh(InkRole::Color, 0.0, lpi, true, &shelf).0.name, "156/64");
        assert_eq!(advise_mesh(InkRole::Color, 0.9, lpi, false, &shelf).0.name, "230/48");
        let fine = Lpi::new(65.0).unwrap();
        assert!(advise_mesh(InkRole::Color, 0.9, fine, false, &shelf).0.threads_per_inch >= 260.0);
        // A shop with two meshes is advised one of the two.
        let own = [Mesh::named("156/64").unwrap(), Mesh::named("110/80").unwrap()];
        let two = choose_from(&own);
        assert_eq!(advise_mesh(InkRole::BaseWhite, 0.0, lpi, false, &two).0.name, "110/80");
        assert_eq!(advise_mesh(InkRole::Color, 0.9, fine, false, &two).0.name, "156/64");
    }
}
