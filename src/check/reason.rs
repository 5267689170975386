//! Reasoning over the readings.
