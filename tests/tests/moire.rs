//! Beats of a halftone with a mesh, against the spectrum of a drawing of the two: the strongest line
//! that numpy's Fourier transform finds at low frequencies is the strongest beat predicted there.

use strikeoff_core::moire::{Beat, Tones, mesh_beats};
use strikeoff_core::units::Lpi;
use strikeoff_core::usage::Mesh;
use strikeoff_tests::tool;

/// Frequencies looked at, an inch: above, the side lobes of the mean; below, the ruling itself.
const LOOKED_AT: [f64; 2] = [2.0, 24.0];

/// Draws round dots through a mesh on 4 x 4 inches, and prints frequency (across, down, an inch) and
/// swing of the strongest line. Openings are averaged over a pixel, or their harmonics would beat with
/// the drawing's own pixels. A Hann window keeps neighbours out; it halves amplitudes twice.
const DRAW: &str = "\
import sys, numpy as np
tpi, opened, lpi, angle, a, low, high = map(float, sys.argv[1:])
n, inches = 4096, 4.0
p = (np.arange(n) + 0.5) / n * inches
q = np.arange(n + 1) / n * inches * tpi + 0.5
through = np.diff(np.floor(q) * opened + np.clip(q % 1 - (1 - opened) / 2, 0, opened)) * n / inches / tpi
x, y = np.meshgrid(p, p)
c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
u, v = (x * c + y * s) * lpi, (-x * s + y * c) * lpi
u -= np.round(u); v -= np.round(v)
ink = (u * u + v * v <= a / np.pi) * through[:, None] * through[None, :]
hann = 1 - np.cos(2 * np.pi * (np.arange(n) + 0.5) / n)
f = np.fft.rfft2((ink - ink.mean()) * hann[:, None] * hann[None, :])
fx, fy = np.fft.rfftfreq(n, inches / n), np.fft.fftfreq(n, inches / n)
r = np.hypot(*np.meshgrid(fx, fy))
power = np.where((r >= low) & (r <= high), np.abs(f), 0)
j, i = np.unravel_index(power.argmax(), power.shape)
print(fx[i], fy[j], 2 * power[j, i] / (n * n) / ink.mean())
";

#[test]
fn the_strongest_line_of_a_drawing_is_the_strongest_beat() {
    let coverage = 0.35;
    for (name, lpi, angle) in
        [("156/64", 54.0, 45.0), ("156/64", 55.0, 0.0), ("156/64", 50.0, 0.0), ("110/80", 45.0, 22.5)]
    {
        let mesh = Mesh::named(name).unwrap();
        let open = mesh.opening_um() / (mesh.opening_um() + mesh.thread_um);
        let beats = mesh_beats(&mesh, Lpi::new(lpi).unwrap(), angle, &Tones::new(&[(coverage, 1.0)]));
        let looked_at = beats.iter().filter(|b| (LOOKED_AT[0]..LOOKED_AT[1]).contains(&b.per_inch));
        let said: &Beat = looked_at.max_by(|a, b| a.swing.total_cmp(&b.swing)).expect("a beat in that range");
        let numbers = [mesh.threads_per_inch, open, lpi, angle, coverage, LOOKED_AT[0], LOOKED_AT[1]];
        let args = ["-c".to_owned(), DRAW.to_owned()].into_iter().chain(numbers.map(|n| n.to_string()));
        let found = String::from_utf8(tool("/usr/bin/python3", "python3-numpy", args)).unwrap();
        let found: Vec<f64> = found.split_whitespace().map(|n| n.parse().unwrap()).collect();
        // Bands know no sense: a frequency and its negative are one.
        let (sin, cos) = said.direction_deg.to_radians().sin_cos();
        let said_at = [said.per_inch * cos, said.per_inch * sin];
        let away = [1.0, -1.0].map(|sign| (found[0] - sign * said_at[0]).hypot(found[1] - sign * said_at[1]));
        // Lines of the transform lie a quarter an inch apart.
        let case = format!("{name} with {lpi} lpi at {angle}: drawn {found:?}, said {said_at:?} {}", said.swing);
        assert!(away[0].min(away[1]) < 0.25, "{case}");
        // A line between two of the transform's loses up to a third under the window (1.4 dB each way).
        assert!((0.6..1.25).contains(&(found[2] / said.swing)), "{case}");
    }
}
