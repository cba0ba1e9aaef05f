//! The fence around the process that draws. Limits of the system (`setrlimit`) hold on every Unix:
//! memory, processor time, no files written, and once the fence is closed no file, socket or pipe
//! opened at all, as there is no descriptor left to have. Linux adds two walls where its kernel has
//! them: Landlock takes away every right on files and on network ports, and seccomp answers the calls
//! that open, start, change or reach anything with "not permitted". On Windows there is no fence yet:
//! there the parent's clock and its bound on the answer are what holds.

use std::io;

use super::limits::Limits;

/// The child ends when its parent does, and leaves no picture of its memory behind.
pub(super) fn end_with_the_parent() -> io::Result<()> {
    #[cfg(target_os = "linux")]
    rustix::process::set_parent_process_death_signal(Some(rustix::process::Signal::KILL))?;
    #[cfg(unix)]
    unix::lower(rustix::process::Resource::Core, 0)?;
    Ok(())
}

/// Sets the limits on memory, time and files written.
pub(super) fn limit(limits: &Limits) -> io::Result<()> {
    #[cfg(unix)]
    {
        use rustix::process::Resource;

        // Private pages that can be written to: stack and heap, not the program's own text. Systems that do not
        // count mappings there count address space, in which the program's files get room besides.
        unix::lower(Resource::Data, limits.memory_bytes)?;
        unix::lower(Resource::As, limits.memory_bytes.saturating_add(unix::FILES_BYTES))?;
        unix::lower_with_room(Resource::Cpu, limits.processor.as_secs(), 2)?;
        unix::lower(Resource::Fsize, 0)?;
    }
    let _ = limits;
    Ok(())
}

/// Gives as many open files as the system allows: fonts are held open.
pub(super) fn open_many_files() {
    #[cfg(unix)]
    unix::raise_to_the_most(rustix::process::Resource::Nofile);
}

/// From here on nothing can be opened, started or reached; what is open stays open.
pub(super) fn close() -> io::Result<()> {
    // Landlock's rules are a file themselves, so they come before there are none.
    #[cfg(target_os = "linux")]
    linux::no_files_and_ports()?;
    #[cfg(unix)]
    unix::lower(rustix::process::Resource::Nofile, 0)?;
    #[cfg(target_os = "linux")]
    linux::no_calls_that_reach_out()?;
    Ok(())
}

#[cfg(unix)]
mod unix {
    use std::io;

    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};

    /// Room in the address space for the program, its libraries, mapped fonts, and heaps set aside.
    pub(super) const FILES_BYTES: u64 = 4 << 30;

    /// Lowers a limit for good; one that is lower already stays.
    pub(super) fn lower(resource: Resource, to: u64) -> io::Result<()> {
        lower_with_room(resource, to, 0)
    }

    /// Lowers a limit; `room` above it is the last one. For processor time the first ends the process with a
    /// signal of its own, which says why.
    pub(super) fn lower_with_room(resource: Resource, to: u64, room: u64) -> io::Result<()> {
        let now = getrlimit(resource);
        let least = |limit: Option<u64>, to: u64| Some(limit.map_or(to, |limit| limit.min(to)));
        let limit = Rlimit { current: least(now.current, to), maximum: least(now.maximum, to + room) };
        match setrlimit(resource, limit) {
            // macOS knows a limit on memory, but does not take every value.
            Err(_) if cfg!(target_os = "macos") && matches!(resource, Resource::Data | Resource::As) => Ok(()),
            done => Ok(done?),
        }
    }

    /// Raises a limit as far as the system lets it. Where it does not, less has to do.
    pub(super) fn raise_to_the_most(resource: Resource) {
        let now = getrlimit(resource);
        let _ = setrlimit(resource, Rlimit { current: now.maximum, maximum: now.maximum });
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use std::io;

    /// Landlock: no right on any file, port or outside process is granted. Kernels without it, or with
    /// less of it, do what they can.
    pub(super) fn no_files_and_ports() -> io::Result<()> {
        use landlock::{
            ABI, Access, AccessFs, AccessNet, CompatLevel, Compatible, Ruleset, RulesetAttr, RulesetError, Scope,
        };

        const KNOWN: ABI = ABI::V6;
        let closed = || -> Result<(), RulesetError> {
            Ruleset::default()
                .set_compatibility(CompatLevel::BestEffort)
                .handle_access(AccessFs::from_all(KNOWN))?
                .handle_access(AccessNet::from_all(KNOWN))?
                .scope(Scope::from_all(KNOWN))?
                .create()?
                .restrict_self()
                .map(drop)
        };
        closed().map_err(io::Error::other)
    }

    /// seccomp: the calls of the list fail. A list of what is allowed would be shorter to reason about, but
    /// allocators, thread libraries and kernels differ in what they call, and the other two walls do not
    /// depend on this one.
    #[cfg(any(target_arch = "x86_64", target_arch = "aarch64", target_arch = "riscv64"))]
    pub(super) fn no_calls_that_reach_out() -> io::Result<()> {
        use seccompiler::{BpfProgram, SeccompAction, SeccompFilter, TargetArch};

        let arch = TargetArch::try_from(std::env::consts::ARCH).map_err(io::Error::other)?;
        let refused = REFUSED.iter().chain(REFUSED_OLD).map(|&call| (call, Vec::new())).collect();
        let refuse = SeccompAction::Errno(libc::EPERM as u32);
        let filter = SeccompFilter::new(refused, SeccompAction::Allow, refuse, arch).map_err(io::Error::other)?;
        let program = BpfProgram::try_from(filter).map_err(io::Error::other)?;
        match seccompiler::apply_filter(&program) {
            // A kernel without it.
            Err(seccompiler::Error::Seccomp(error) | seccompiler::Error::Prctl(error))
                if matches!(error.raw_os_error(), Some(libc::EINVAL | libc::ENOSYS)) =>
            {
                Ok(())
            }
            done => done.map_err(io::Error::other),
        }
    }

    /// Machines whose calls the library does not know go without this wall.
    #[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64", target_arch = "riscv64")))]
    pub(super) fn no_calls_that_reach_out() -> io::Result<()> {
        Ok(())
    }

    /// Calls that open files, sockets and other processes, start programs, or change what is outside.
    #[cfg(any(target_arch = "x86_64", target_arch = "aarch64", target_arch = "riscv64"))]
    const REFUSED: &[i64] = &[
        // Files: opened, made, moved, removed, changed.
        libc::SYS_openat,
        libc::SYS_openat2,
        libc::SYS_open_by_handle_at,
        libc::SYS_name_to_handle_at,
        libc::SYS_truncate,
        libc::SYS_mkdirat,
        libc::SYS_mknodat,
        libc::SYS_unlinkat,
        libc::SYS_linkat,
        libc::SYS_symlinkat,
        libc::SYS_renameat2,
        libc::SYS_fchmodat,
        libc::SYS_fchownat,
        libc::SYS_utimensat,
        libc::SYS_setxattr,
        libc::SYS_lsetxattr,
        libc::SYS_removexattr,
        libc::SYS_lremovexattr,
        libc::SYS_memfd_create,
        libc::SYS_inotify_init1,
        libc::SYS_fanotify_init,
        // The network, and other processes over sockets.
        libc::SYS_socket,
        libc::SYS_socketpair,
        libc::SYS_connect,
        libc::SYS_bind,
        libc::SYS_listen,
        libc::SYS_accept,
        libc::SYS_accept4,
        libc::SYS_sendto,
        libc::SYS_sendmsg,
        libc::SYS_sendmmsg,
        // Programs and processes.
        libc::SYS_execve,
        libc::SYS_execveat,
        libc::SYS_ptrace,
        libc::SYS_process_vm_readv,
        libc::SYS_process_vm_writev,
        libc::SYS_pidfd_open,
        libc::SYS_pidfd_getfd,
        libc::SYS_pidfd_send_signal,
        libc::SYS_kill,
        libc::SYS_shmget,
        libc::SYS_shmat,
        libc::SYS_msgget,
        libc::SYS_semget,
        libc::SYS_mq_open,
        libc::SYS_add_key,
        libc::SYS_request_key,
        libc::SYS_keyctl,
        // The kernel itself.
        libc::SYS_io_uring_setup,
        libc::SYS_bpf,
        libc::SYS_perf_event_open,
        libc::SYS_userfaultfd,
        libc::SYS_mount,
        libc::SYS_umount2,
        libc::SYS_pivot_root,
        libc::SYS_chroot,
        libc::SYS_unshare,
        libc::SYS_setns,
        libc::SYS_init_module,
        libc::SYS_finit_module,
        libc::SYS_kexec_load,
        libc::SYS_reboot,
    ];

    /// The older forms, which newer machines do not have.
    #[cfg(target_arch = "x86_64")]
    const REFUSED_OLD: &[i64] = &[
        libc::SYS_open,
        libc::SYS_creat,
        libc::SYS_mkdir,
        libc::SYS_mknod,
        libc::SYS_unlink,
        libc::SYS_rmdir,
        libc::SYS_link,
        libc::SYS_symlink,
        libc::SYS_rename,
        libc::SYS_renameat,
        libc::SYS_chmod,
        libc::SYS_chown,
        libc::SYS_lchown,
        libc::SYS_utime,
        libc::SYS_utimes,
        libc::SYS_futimesat,
        libc::SYS_inotify_init,
        libc::SYS_fork,
        libc::SYS_vfork,
    ];
    #[cfg(target_arch = "aarch64")]
    const REFUSED_OLD: &[i64] = &[libc::SYS_renameat];
    #[cfg(target_arch = "riscv64")]
    const REFUSED_OLD: &[i64] = &[];
}
