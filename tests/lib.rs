//! Helpers of the tests of the whole tool.
