//! A choke by 3 px of a 3960 x 5400 plane of 16 bits against OpenCV's erosion of 8 bits with the
//! same disk, in the same run, both on one thread; and on all threads. Best of several, as ratios.
//! Needs python3 with OpenCV (apt-get install python3-opencv).
//! `cargo bench -p strikeoff-core --bench morphology`

use std::process::Command;
use std::time::{Duration, Instant};

use strikeoff_core::Progress;
use strikeoff_core::raster::{Plane, choke, choke_in_place};

const SCRIPT: &str = "
import cv2, numpy as np, time
cv2.setNumThreads(1)
a = (np.arange(3960 * 5400, dtype=np.uint64) * 2654435761 >> 13).astype(np.uint8).reshape(5400, 3960)
y, x = np.mgrid[-3:4, -3:4]
k = (x * x + y * y <= 9).astype(np.uint8)
out = np.empty_like(a)
def once():
    t = time.perf_counter(); cv2.erode(a, k, dst=out); return time.perf_counter() - t
print(min(once() for _ in range(15)))
";

fn best(runs: usize, mut work: impl FnMut()) -> Duration {
    let one = |work: &mut dyn FnMut()| {
        let start = Instant::now();
        work();
        start.elapsed()
    };
    (0..runs).map(|_| one(&mut work)).min().unwrap_or_default()
}

fn opencv() -> Result<f64, String> {
    let done = Command::new("/usr/bin/python3").args(["-c", SCRIPT]).output().map_err(|e| e.to_string())?;
    let text = String::from_utf8_lossy(&done.stdout).trim().to_owned();
    text.parse().map_err(|_| format!("{text}{}; apt-get install python3-opencv", String::from_utf8_lossy(&done.stderr)))
}

fn main() {
    let plane = Plane::from_fn(3960, 5400, |x, y| ((y * 3960 + x) as u64).wrapping_mul(2_654_435_761) as u16);
    let none = Progress::none();
    let mut work = plane.clone();
    let mut in_place = || choke_in_place(&mut work, 3.0, &none).expect("nobody cancels");
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("one thread");
    let one = pool.install(|| best(15, &mut in_place)).as_secs_f64();
    let all = best(15, &mut in_place).as_secs_f64();
    let copy = best(7, || {
        choke(&plane, 3.0, &none).expect("nobody cancels");
    });
    let peer = match opencv() {
        Ok(seconds) => seconds,
        Err(why) => panic!("no peer to compare with: {why}"),
    };
    println!("OpenCV, 8 bits, one thread    {:6.1} ms", peer * 1e3);
    println!("choke in place, one thread    {:6.1} ms  {:.2} x OpenCV", one * 1e3, one / peer);
    println!("choke in place, all threads   {:6.1} ms  {:.2} x OpenCV", all * 1e3, all / peer);
    println!(
        "choke of a copy, all threads  {:6.1} ms  {:.2} x OpenCV",
        copy.as_secs_f64() * 1e3,
        copy.as_secs_f64() / peer
    );
}
