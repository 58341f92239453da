//! The window: plan, elevation, chamber and trace on one live sheet.
