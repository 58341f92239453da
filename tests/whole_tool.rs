//! Tests of the whole tool.
