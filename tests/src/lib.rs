//! Shared helpers of the whole-job tests: the program as a real binary, and readers from outside.
