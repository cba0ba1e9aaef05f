//! The usual cautions, by garment and for every job. They remind; the ink's and the chemicals'
//! data sheets, local codes and licensed practice decide.

use crate::color::lab_from_linear;
use crate::ink::Garment;

/// Cautions for a garment, then those that hold for every run.
pub fn cautions(garment: &Garment) -> Vec<String> {
    let mut out = Vec::new();
    let fabric = garment.fabric.as_deref().unwrap_or("").to_lowercase();
    let synthetic = ["poly", "blend", "nylon", "acryl", "tri"].iter().any(|word| fabric.contains(word));
    let lab = lab_from_linear(garment.reflectance());
    let chroma = lab.a.hypot(lab.b);
    let dyed = !garment.is_white();
    if synthetic && dyed {
        out.push(
            "Dye migration: dyed polyester can bleed into the ink from about 280 F (138 C), often days later. Use the \
             ink and blocker that their data sheets name for this fabric, cure no hotter than they allow, and wear-test \
             before the run."
                .to_owned(),
        );
    } else if fabric.is_empty() && dyed {
        out.push(
            "Fabric not stated: if it holds polyester, its dye can migrate into the ink. Read the garment's label before choosing ink and cure."
                .to_owned(),
        );
    }
    if dyed && fabric.contains("cotton") && chroma > 25.0 {
        let hue = lab.b.atan2(lab.a).to_degrees().rem_euclid(360.0);
        // Reds, royal blues, purples and greens of the kelly kind (trade pages).
        if !(60.0..140.0).contains(&hue) {
            out.push(
                "Discharge: reds, royal blues, purples and kelly greens discharge poorly and unevenly. Test on this lot; \
                 follow the data sheet on ventilation and washing out."
                    .to_owned(),
            );
        }
    }
    out.extend(
        [
            "Cure as the ink's data sheet says, through the whole film: measure with a probe or heat labels at the ink, \
             not the air or the surface only, and wash-test the first shirts.",
            "Flash to dry to the touch only; too much heat harms the bond of the next colour. Hot plates and flashes burn.",
            "Exposing lamps give ultraviolet light: keep covers shut, shield eyes and skin. Ventilate dryers and solvents, \
             keep them from sparks, wear what the data sheets ask for. Local codes and licensed practice come first.",
        ]
        .map(str::to_owned),
    );
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn garment(color: &str, fabric: Option<&str>) -> Garment {
        Garment { fabric: fabric.map(str::to_owned), ..Garment::of_color(color.parse().unwrap()) }
    }

    #[test]
    fn polyester_and_hard_discharge_colors_are_named_and_white_cotton_is_left_alone() {
        let has = |list: &[String], word: &str| list.iter().any(|c| c.contains(word));
        let red = cautions(&garment("#B0101C", Some("cotton")));
        assert!(has(&red, "Discharge") && !has(&red, "migration"));
        let poly = cautions(&garment("#20306B", Some("50/50 cotton-polyester blend")));
        assert!(has(&poly, "Dye migration"));
        let white = cautions(&garment("#FFFFFF", Some("cotton")));
        assert!(!has(&white, "Dye") && !has(&white, "Discharge"));
        assert!(has(&white, "ultraviolet") && has(&white, "data sheet"));
    }
}
