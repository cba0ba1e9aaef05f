//! What will go wrong on press, one file a finding.
