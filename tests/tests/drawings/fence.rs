//! The proof that drawings open nothing: the system's own list of the calls that the process made
//! (strace), from the moment that the fence is closed.

use std::fs;
use std::process::Command;

use strikeoff_tests::program;

use super::{SHOW, SHOWN, image, pdf, stream};

/// Calls that open, reach or start something.
const OPENS: [&str; 18] = [
    "open(",
    "openat(",
    "openat2(",
    "creat(",
    "socket(",
    "socketpair(",
    "connect(",
    "bind(",
    "sendto(",
    "sendmsg(",
    "execve(",
    "execveat(",
    "unlink",
    "rename",
    "mkdir",
    "link",
    "stat(",
    "access(",
];

/// The calls of the child that drew `art`: before and after the last wall of the fence was up.
fn calls(name: &str, art: &[u8]) -> (Vec<String>, Vec<String>) {
    let dir = tempfile::tempdir().unwrap();
    let (path, log) = (dir.path().join(name), dir.path().join("log"));
    fs::write(&path, art).unwrap();
    let done = Command::new("strace")
        .args(["-ff", "-qq", "-s", "200", "-o"])
        .arg(&log)
        .arg(program())
        .arg("prepare")
        .arg(&path)
        .args(["--max-width", "1in", "-o", "out.png"])
        .current_dir(dir.path())
        .output();
    let done = done.unwrap_or_else(|error| panic!("strace: {error}; install it with: apt-get install strace"));
    println!("{name}: {}", String::from_utf8_lossy(&done.stderr).trim());
    // A file a thread: that of the child's first thread, then those it started.
    let logs: Vec<String> = fs::read_dir(dir.path())
        .unwrap()
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("log."))
        .map(|entry| fs::read_to_string(entry.path()).unwrap())
        .collect();
    let child =
        logs.iter().find(|log| log.lines().any(|line| line.starts_with("execve(") && line.contains("draw-art")));
    let child: Vec<&str> = child.expect("a child was started").lines().collect();
    let wall = child.iter().rposition(|line| line.starts_with("seccomp(") || line.starts_with("prctl(PR_SET_SECCOMP"));
    let wall = wall.expect("this kernel has seccomp") + 1;
    let (before, after) = child.split_at(wall);
    let mut after: Vec<String> = after.iter().map(|&line| line.to_owned()).collect();
    for line in after.clone().iter().filter(|line| line.starts_with("clone")) {
        let thread = line.rsplit(['=', '>']).next().unwrap().trim().to_owned();
        let thread = thread.trim_start_matches(|c: char| !c.is_ascii_digit());
        let own = fs::read_to_string(dir.path().join(format!("log.{thread}"))).expect("the thread's calls");
        after.extend(own.lines().map(str::to_owned));
    }
    (before.iter().map(|&line| line.to_owned()).collect(), after)
}

fn opened(calls: &[String]) -> Vec<&String> {
    calls.iter().filter(|line| OPENS.iter().any(|call| line.starts_with(call))).collect()
}

#[test]
fn a_drawing_opens_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let secret = dir.path().join("secret.png");
    image::RgbImage::from_pixel(8, 8, image::Rgb([255, 0, 0])).save(&secret).unwrap();
    let file = secret.display();
    let svg = format!(
        "<?xml version='1.0'?><!DOCTYPE svg [<!ENTITY a 'Heron'>]>\
        <svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='96' height='96'>\
        <style>@import url(file://{file}); @font-face {{ font-family: F; src: url(file://{file}) }}</style>\
        <image width='9' height='9' href='file:///etc/passwd.png'/><image width='9' height='9' xlink:href='{file}'/>\
        <image width='9' height='9' href='http://127.0.0.1:9/a.png'/><use href='file://{file}#a'/>\
        <filter id='f'><feImage href='{file}'/></filter><rect width='9' height='9' filter='url(#f)'/>\
        <text y='40' font-family='F'>&a; \u{3b1}\u{2192}\u{e123}</text></svg>"
    );
    let entity = format!(
        "<!DOCTYPE svg SYSTEM 'file://{file}' [<!ENTITY own SYSTEM 'file:///etc/passwd'>]>\
        <svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><text>&own;</text></svg>"
    );
    let outside = format!("/F<</Type/Filespec/F({file})>>/FFilter/DCTDecode");
    let pdf = pdf(
        b"q 144 0 0 144 0 0 cm /X Do Q BT /F 9 Tf (Heron) Tj ET",
        &format!("{SHOWN}/Font<</F<</Type/Font/Subtype/TrueType/BaseFont/NoSuchFace>>>>"),
        &[stream(&image(9, 9, "DeviceRGB", 8, &outside), b"")],
    );
    assert!(pdf.windows(SHOW.len()).any(|part| part == SHOW));
    for (name, art) in [("reaches.svg", svg.as_bytes()), ("entity.svg", entity.as_bytes()), ("reaches.pdf", &pdf)] {
        let (before, after) = calls(name, art);
        assert!(!opened(&before).is_empty(), "the program's own libraries are opened: the log is read rightly");
        let fonts = before.iter().filter(|line| line.contains(".ttf") && line.starts_with("openat(")).count();
        assert_eq!(fonts > 0, name.ends_with("svg"), "{name}: {fonts} fonts opened before the fence is closed");
        let reached = |line: &&&String| line.contains("secret.png") || line.contains("passwd");
        assert_eq!(opened(&before).iter().find(reached), None, "{name}: reached for what the drawing names");
        // The C library's allocator looks at how memory is given out; the fence refuses that too.
        let own = |line: &&String| line.contains("\"/proc/sys/vm/overcommit_memory\"") && line.contains("= -1 E");
        let opened: Vec<_> = opened(&after).into_iter().filter(|line| !own(line)).collect();
        assert_eq!(opened, Vec::<&String>::new(), "{name}: opened behind the fence");
        assert!(after.len() > 10, "{name}: it did draw");
        for wall in ["landlock_restrict_self(", "RLIMIT_NOFILE, {rlim_cur=0, rlim_max=0}", "RLIMIT_DATA", "RLIMIT_CPU"]
        {
            assert!(before.iter().any(|line| line.contains(wall)), "{name}: {wall} is missing");
        }
    }
}
