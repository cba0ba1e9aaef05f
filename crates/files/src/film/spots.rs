//! One TIFF, one channel per screen, before halftone: separated photometric interpretation with a
//! multi-ink InkSet (TIFF Revision 6.0, section 16), channels named by InkNames in print order.
//! Readers that know only CMYK may take it for CMYK, which is why it is an option and says so.

use rayon::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::job::Job;
use strikeoff_core::screens::Screens;

use super::composite::colorant_names;
use super::label::job_line;
use super::options::{FilmError, SpotDepth};
use super::rows::deflate;
use super::tiff::{SOFTWARE, TiffWriter};
use crate::text::plain;
use crate::{Growing, WriteError};

/// Rows of a strip.
const ROWS: usize = 64;

/// What whoever opens the file should know.
pub const SPOTS_NOTE: &str = "spots.tif holds one channel a screen; programs that know only CMYK refuse it or show \
                              four of its channels as CMYK in wrong colours";

/// What every unscreened file says about its values.
pub const COVERAGE_NOTE: &str = "coverage meant on the shirt, before halftone and not compensated for dot gain";

/// Writes the screens at their working resolution.
pub fn write_spots(
    job: &Job,
    screens: &Screens,
    depth: SpotDepth,
    file: Growing,
    progress: &Progress,
) -> Result<(), FilmError> {
    let count = screens.list.len();
    let names = colorant_names(&screens.list);
    let path = file.place().to_owned();
    file.fill(|out| {
        let wrap = |e| WriteError::io(&path, e);
        let mut tiff = TiffWriter::new(out).map_err(wrap)?;
        let strips = screens.height.div_ceil(ROWS);
        let batch = rayon::current_num_threads() * 4;
        for start in (0..strips).step_by(batch) {
            progress.step("spot channels", start as f32 / strips as f32)?;
            let packed: Vec<Vec<u8>> = (start..(start + batch).min(strips))
                .into_par_iter()
                .map(|strip| deflate(&samples(screens, depth, strip * ROWS)))
                .collect();
            for strip in packed {
                tiff.strip(&strip).map_err(wrap)?;
            }
        }
        tiff.finish(|directory, offsets, lengths| {
            let bits = match depth {
                SpotDepth::Eight => 8u16,
                SpotDepth::Sixteen => 16,
            };
            directory.long(254, &[0]);
            directory.long(256, &[screens.width as u32]);
            directory.long(257, &[screens.height as u32]);
            directory.short(258, &vec![bits; count]);
            directory.short(259, &[8]);
            // Separated: 0 is no ink.
            directory.short(262, &[5]);
            directory.ascii(269, &plain(&job_line(job)));
            directory.ascii(270, COVERAGE_NOTE);
            directory.long(273, offsets);
            directory.short(274, &[1]);
            directory.short(277, &[count as u16]);
            directory.long(278, &[ROWS as u32]);
            directory.long(279, lengths);
            directory.rational(282, screens.ppi.get());
            directory.rational(283, screens.ppi.get());
            directory.short(284, &[1]);
            directory.short(296, &[2]);
            directory.ascii(305, SOFTWARE);
            // Not CMYK: the names say which inks.
            directory.short(332, &[2]);
            directory.strings(333, &names.iter().map(String::as_str).collect::<Vec<_>>());
            directory.short(334, &[count as u16]);
        })
        .map_err(wrap)?;
        Ok(())
    })
}

/// A strip's samples, pixel by pixel.
fn samples(screens: &Screens, depth: SpotDepth, first: usize) -> Vec<u8> {
    let count = screens.list.len();
    let rows = first..(first + ROWS).min(screens.height);
    let bytes = if depth == SpotDepth::Eight { 1 } else { 2 };
    let mut out = vec![0u8; rows.len() * screens.width * count * bytes];
    for (y, row) in rows.zip(out.chunks_exact_mut(screens.width * count * bytes)) {
        for (at, screen) in screens.list.iter().enumerate() {
            for (pixel, &v) in row.chunks_exact_mut(count * bytes).zip(screen.coverage.row(y)) {
                match depth {
                    SpotDepth::Eight => pixel[at] = ((u32::from(v) + 128) / 257) as u8,
                    SpotDepth::Sixteen => pixel[2 * at..2 * at + 2].copy_from_slice(&v.to_le_bytes()),
                }
            }
        }
    }
    out
}
