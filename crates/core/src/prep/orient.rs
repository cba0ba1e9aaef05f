//! Turning and flipping art that is already cropped and straightened: the crop and the small
//! angle go along, so that the same part of the picture is kept and only its position changes.

use super::{CropBox, PrepSettings};
use crate::units::Degrees;

impl PrepSettings {
    /// The art as it lies now, turned a quarter clockwise.
    pub fn turn_right(&mut self) {
        self.turn.quarters = (self.turn.quarters % 4 + 1) % 4;
        if let Some(crop) = &mut self.crop {
            *crop = crop.turned_right();
        }
    }

    /// The art as it lies now, turned a quarter counter-clockwise.
    pub fn turn_left(&mut self) {
        (0..3).for_each(|_| self.turn_right());
    }

    /// The art as it lies now, mirrored left to right.
    pub fn flip_sideways(&mut self) {
        // A mirror after q quarter turns is one before 4 - q of them.
        self.turn.mirrored = !self.turn.mirrored;
        self.turn.quarters = (4 - self.turn.quarters % 4) % 4;
        self.straighten = Degrees::new(-self.straighten.get()).unwrap_or(self.straighten);
        if let Some(crop) = &mut self.crop {
            crop.left = 1.0 - crop.left - crop.width;
        }
    }

    /// The art as it lies now, mirrored top to bottom.
    pub fn flip_over(&mut self) {
        self.flip_sideways();
        self.turn_right();
        self.turn_right();
    }
}

impl CropBox {
    /// The same part of a picture that is turned a quarter clockwise.
    fn turned_right(self) -> Self {
        Self { left: 1.0 - self.top - self.height, top: self.left, width: self.height, height: self.width }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Progress;
    use crate::prep::{Enlarging, Turn, prepare};
    use crate::raster::{Art, Detail, Picture, Plane};
    use crate::units::Ppi;

    fn settings() -> PrepSettings {
        PrepSettings {
            sharpen_amount: 0.0,
            enlarging: Enlarging::Plain,
            straighten: Degrees::new(5.0).unwrap(),
            crop: Some(CropBox { left: 0.125, top: 0.25, width: 0.5, height: 0.5 }),
            turn: Turn { mirrored: true, quarters: 1 },
            ..PrepSettings::default()
        }
    }

    #[test]
    fn turning_cropped_art_equals_turning_the_finished_picture() {
        let pixels = Plane::from_fn(64, 48, |x, y| [(x * 1000) as u16, (y * 1300) as u16, 20_000, 65_535]);
        let art = Art { picture: Picture::new(pixels), ppi: Ppi::new(300.0).unwrap() };
        let run = |s: &PrepSettings| prepare(&art, s, Detail::Full, &Progress::none()).unwrap().picture;
        type Step = (fn(&mut PrepSettings), Turn);
        let steps: [Step; 4] = [
            (PrepSettings::turn_right, Turn { mirrored: false, quarters: 1 }),
            (PrepSettings::turn_left, Turn { mirrored: false, quarters: 3 }),
            (PrepSettings::flip_sideways, Turn { mirrored: true, quarters: 0 }),
            (PrepSettings::flip_over, Turn { mirrored: true, quarters: 2 }),
        ];
        for (at, (step, turn)) in steps.into_iter().enumerate() {
            let mut changed = settings();
            step(&mut changed);
            let (got, want) = (run(&changed), turn.apply(run(&settings())));
            assert_eq!((got.width(), got.height()), (want.width(), want.height()), "step {at}");
            let off = got.pixels().data().iter().zip(want.pixels().data());
            let off = off.map(|(a, b)| (0..4).map(|c| u64::from(a[c].abs_diff(b[c]))).sum::<u64>()).sum::<u64>();
            // The crop's edge may fall between pixels the other way round.
            assert!(off / (got.width() * got.height()) as u64 <= 600, "step {at}: {off}");
        }
    }

    #[test]
    fn four_turns_and_two_flips_change_nothing() {
        let mut now = settings();
        (0..4).for_each(|_| now.turn_right());
        now.flip_over();
        now.flip_over();
        now.flip_sideways();
        now.flip_sideways();
        assert_eq!(now, settings());
    }
}
