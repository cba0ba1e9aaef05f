//! Colour scales for the Difference and Build-up views, with the numbers their legends print, so that
//! the picture can be read without knowing colours by heart. Both go from near white through one
//! warm hue to near black: order is read from lightness alone.

use egui::Color32;

/// A step of a scale: from this value on, this colour; between steps it is blended.
#[derive(Debug, Clone, Copy)]
pub struct Step {
    /// Value in the scale's unit.
    pub value: f32,
    /// Colour there.
    pub color: Color32,
}

const fn step(value: f32, r: u8, g: u8, b: u8) -> Step {
    Step { value, color: Color32::from_rgb(r, g, b) }
}

/// CIEDE2000 between proof and art. About 1 is the least that is seen, over 5 anyone sees it.
pub const DIFFERENCE_STEPS: [Step; 5] = [
    step(0.0, 0xf4, 0xf4, 0xf2),
    step(2.0, 0xe9, 0xd9, 0xb4),
    step(5.0, 0xdd, 0x93, 0x3f),
    step(10.0, 0xa4, 0x3a, 0x2c),
    step(20.0, 0x3b, 0x10, 0x23),
];

/// CIEDE2000 that a colour stays within, 19 times of 20.
pub const BAND_STEPS: [Step; 5] = [
    step(0.0, 0xf4, 0xf4, 0xf2),
    step(1.0, 0xd8, 0xdf, 0xd0),
    step(2.0, 0xa3, 0xb9, 0x9a),
    step(4.0, 0x4f, 0x77, 0x5c),
    step(8.0, 0x14, 0x2a, 0x2a),
];

/// Total ink in percent, all screens together.
pub const BUILD_UP_STEPS: [Step; 5] = [
    step(0.0, 0xf4, 0xf4, 0xf2),
    step(100.0, 0xc4, 0xd2, 0xd6),
    step(200.0, 0x7f, 0xa3, 0xb3),
    step(300.0, 0x3d, 0x65, 0x80),
    step(400.0, 0x16, 0x20, 0x3c),
];

/// The colour of a value on a scale.
pub fn ramp_color(steps: &[Step], value: f32) -> Color32 {
    let at = steps.partition_point(|s| s.value <= value);
    if at == 0 {
        return steps[0].color;
    }
    let Some(next) = steps.get(at) else {
        return steps[at - 1].color;
    };
    let from = &steps[at - 1];
    from.color.lerp_to_gamma(next.color, (value - from.value) / (next.value - from.value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_is_always_darker() {
        for steps in [&DIFFERENCE_STEPS, &BUILD_UP_STEPS, &BAND_STEPS] {
            let end = steps[steps.len() - 1].value;
            let mut before = f32::INFINITY;
            for i in 0..=100 {
                let light = ramp_color(steps, end * i as f32 / 100.0).intensity();
                assert!(light <= before + 1e-3, "step {i}");
                before = light;
            }
        }
    }
}
