//! Advice in words.
