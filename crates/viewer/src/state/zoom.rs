//! How large everything in the window is.

use serde::{Deserialize, Serialize};

/// In percent of the usual size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Zoom(u16);

impl Default for Zoom {
    fn default() -> Self {
        Self(100)
    }
}

impl Zoom {
    /// Steps between which nobody needs another one; letters are legible at the first, and the sheet still has
    /// room for its views at the last.
    const STEPS: [u16; 9] = [70, 80, 90, 100, 110, 120, 140, 160, 200];

    pub(crate) fn larger(self) -> Self {
        Self(Self::STEPS.into_iter().find(|step| *step > self.0).unwrap_or(self.0))
    }

    pub(crate) fn smaller(self) -> Self {
        Self(Self::STEPS.into_iter().rev().find(|step| *step < self.0).unwrap_or(self.0))
    }

    /// What sizes are multiplied by, whatever a file of settings says.
    pub(crate) fn factor(self) -> f32 {
        f32::from(self.0.clamp(Self::STEPS[0], Self::STEPS[8])) / 100.0
    }
}

#[cfg(test)]
mod tests {
    use super::Zoom;

    #[test]
    fn steps_lead_to_the_ends_and_back_to_the_usual_size() {
        let up = std::iter::successors(Some(Zoom::default()), |zoom| Some(zoom.larger()));
        let largest = up.take(20).last().unwrap();
        assert_eq!((largest, largest.larger()), (Zoom(200), Zoom(200)));
        assert_eq!(Zoom::default().larger().smaller(), Zoom::default());
        assert_eq!(Zoom(100).smaller(), Zoom(90));
        assert!((Zoom(5000).factor() - 2.0).abs() < 1e-6, "what a damaged file says");
    }
}
