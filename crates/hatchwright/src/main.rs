//! The executable: a verb runs headless.

fn main() {}
