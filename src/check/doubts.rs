//! What is legal and probably not meant.

use crate::findings::Findings;
use crate::program::Program;

/// Looks at a program and says what is doubtful.
pub(super) fn look(_program: &Program, _findings: &mut Findings) {}
