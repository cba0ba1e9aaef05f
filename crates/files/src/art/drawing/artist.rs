//! Who draws: the program started again as a child, or, where that is chosen in so many words, the
//! process itself. The library does not know the command line; the program names it.

use std::ffi::OsString;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{PoisonError, RwLock};

/// How drawings are drawn.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Artist {
    /// Nobody was named yet: drawings are refused with a sentence.
    #[default]
    Nobody,
    /// A child process, fenced in: what programs use.
    Child(Program),
    /// This process, on a thread with a deep stack, without any limit on time and memory: one bad file can end
    /// it. For tests, and for programs that draw their own files alone.
    InProcess,
}

/// A program that answers by [`super::serve`] when it is started with these arguments.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Program {
    path: PathBuf,
    args: Vec<OsString>,
}

impl Artist {
    /// The program at `path`, which answers by [`super::serve`] when it is started with `args`.
    pub fn program(path: impl Into<PathBuf>, args: impl IntoIterator<Item = impl Into<OsString>>) -> Self {
        Self::Child(Program { path: path.into(), args: args.into_iter().map(Into::into).collect() })
    }

    /// This very program, started with `args`.
    pub fn this_program(args: impl IntoIterator<Item = impl Into<OsString>>) -> io::Result<Self> {
        // Linux's own link still leads to this program after an update has replaced its file.
        let link = Path::new("/proc/self/exe");
        let path = if cfg!(target_os = "linux") && link.exists() { link.to_owned() } else { std::env::current_exe()? };
        Ok(Self::program(path, args))
    }
}

impl Program {
    pub(super) fn command(&self) -> Command {
        let mut command = Command::new(&self.path);
        // A picture of the stack at a panic would open files, and nobody reads it.
        command.args(&self.args).env("RUST_BACKTRACE", "0");
        #[cfg(windows)]
        {
            use std::os::windows::process::CommandExt;
            /// CREATE_NO_WINDOW: no console window flashes up.
            const NO_WINDOW: u32 = 0x0800_0000;
            command.creation_flags(NO_WINDOW);
        }
        command
    }
}

static CHOSEN: RwLock<Artist> = RwLock::new(Artist::Nobody);

/// Says for the whole program how drawings are drawn; called once, at its start.
pub fn draw_with(artist: Artist) {
    *CHOSEN.write().unwrap_or_else(PoisonError::into_inner) = artist;
}

/// How drawings are drawn unless a caller says otherwise.
pub(crate) fn chosen() -> Artist {
    CHOSEN.read().unwrap_or_else(PoisonError::into_inner).clone()
}
