//! The memory that may be used: a share of the machine's.

use std::fmt;
use std::sync::OnceLock;

use sysinfo::{MemoryRefreshKind, RefreshKind, System};

/// Environment variable that states the budget in megabytes, in place of half of the machine's memory.
pub const MEMORY_VARIABLE: &str = "STRIKEOFF_MEMORY_MB";

/// Taken where the system does not say how much memory it has.
const UNKNOWN_MACHINE: u64 = 4 << 30;

/// Memory that may be used at once, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget(u64);

impl Budget {
    /// So many bytes.
    pub fn of_bytes(bytes: u64) -> Self {
        Self(bytes)
    }

    /// Half of the memory of the machine, or of the container that the program runs in; or what
    /// [`MEMORY_VARIABLE`] says. Found once.
    pub fn of_machine() -> Self {
        static FOUND: OnceLock<Budget> = OnceLock::new();
        *FOUND.get_or_init(|| match Self::stated() {
            Ok(Some(stated)) => stated,
            _ => Self(memory() / 2),
        })
    }

    /// What [`MEMORY_VARIABLE`] says, if it is there; an error if it is not a number. A program asks once,
    /// before anything else.
    pub fn stated() -> Result<Option<Self>, NotAnAmount> {
        let Some(text) = std::env::var_os(MEMORY_VARIABLE) else { return Ok(None) };
        let text = text.to_string_lossy();
        match text.trim().parse::<u64>() {
            Ok(megabytes) if megabytes > 0 => Ok(Some(Self(megabytes.saturating_mul(1_000_000)))),
            _ => Err(NotAnAmount(text.into_owned())),
        }
    }

    /// In bytes.
    pub fn bytes(self) -> u64 {
        self.0
    }

    /// What is left beside `held` bytes.
    pub fn less(self, held: u64) -> Self {
        Self(self.0.saturating_sub(held))
    }

    /// This, but at most `bytes`.
    pub fn at_most(self, bytes: u64) -> Self {
        Self(self.0.min(bytes))
    }

    /// Refuses what needs more.
    pub fn check(self, needs: u64) -> Result<(), OverBudget> {
        if needs <= self.0 { Ok(()) } else { Err(OverBudget { needs, may: self.0 }) }
    }
}

/// Memory of the machine in bytes; that of its container where there is a smaller limit.
fn memory() -> u64 {
    let only_memory = RefreshKind::nothing().with_memory(MemoryRefreshKind::nothing().with_ram());
    let system = System::new_with_specifics(only_memory);
    let limit = system.cgroup_limits().map_or(u64::MAX, |limits| limits.total_memory);
    match system.total_memory().min(limit) {
        0 => UNKNOWN_MACHINE,
        bytes => bytes,
    }
}

/// The stated budget cannot be understood.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{MEMORY_VARIABLE} must be a whole number of megabytes, such as 4000, not \"{0}\"")]
pub struct NotAnAmount(String);

/// Something needs more memory than may be used. Reads as the end of a sentence about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OverBudget {
    /// Bytes that it needs, about.
    pub needs: u64,
    /// Bytes that may be used.
    pub may: u64,
}

impl fmt::Display for OverBudget {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "would need about {} of memory, and {} may be used", Amount(self.needs), Amount(self.may))
    }
}

impl std::error::Error for OverBudget {}

/// Bytes for people.
struct Amount(u64);

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 as f64 / 1e9 {
            gigabytes if gigabytes >= 10.0 => write!(f, "{gigabytes:.0} GB"),
            gigabytes if gigabytes >= 1.0 => write!(f, "{gigabytes:.1} GB"),
            gigabytes => write!(f, "{:.0} MB", (gigabytes * 1e3).ceil()),
        }
    }
}

/// Adds up what is held, piece by piece, against a budget.
#[derive(Debug)]
pub struct Tally {
    budget: Budget,
    held: u64,
}

impl Tally {
    /// Nothing held yet.
    pub fn new(budget: Budget) -> Self {
        Self { budget, held: 0 }
    }

    /// What may still be taken, in bytes.
    pub fn left(&self) -> u64 {
        self.budget.less(self.held).bytes()
    }

    /// Takes `bytes` more, or refuses and takes nothing.
    pub fn take(&mut self, bytes: u64) -> Result<(), OverBudget> {
        let sum = self.held.saturating_add(bytes);
        self.budget.check(sum)?;
        self.held = sum;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_machine_has_a_budget_that_is_a_part_of_its_memory() {
        let budget = Budget::of_machine().bytes();
        assert!(budget > 0 && budget < 1 << 50, "{budget}");
        #[cfg(target_os = "linux")]
        if std::env::var(MEMORY_VARIABLE).is_err() {
            // proc(5): MemTotal, total usable memory in kB.
            let said = std::fs::read_to_string("/proc/meminfo").unwrap();
            let line = said.lines().find_map(|line| line.strip_prefix("MemTotal:")).unwrap();
            let total = line.trim().trim_end_matches(" kB").parse::<u64>().unwrap() * 1024;
            assert!(budget <= total / 2, "{budget} of {total}");
        }
    }

    #[test]
    fn sums_are_held_against_it_and_a_refusal_takes_nothing() {
        let mut tally = Tally::new(Budget::of_bytes(100));
        tally.take(60).unwrap();
        assert_eq!(tally.take(41).unwrap_err(), OverBudget { needs: 101, may: 100 });
        tally.take(40).unwrap();
        assert_eq!(tally.left(), 0);
        assert!(tally.take(u64::MAX).is_err());
    }

    #[test]
    fn amounts_read_well() {
        let said = OverBudget { needs: 25_600_000_000, may: 1_500_000_000 }.to_string();
        assert_eq!(said, "would need about 26 GB of memory, and 1.5 GB may be used");
        assert_eq!(Amount(200).to_string(), "1 MB");
    }
}
