//! The first and the last of some layers.

/// The first and the last of the layers that were added; nothing while there is none.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Span(Option<(u32, u32)>);

impl Span {
    pub(super) fn add_layer(&mut self, layer: u32) {
        self.add(Self(Some((layer, layer))));
    }

    pub(super) fn add(&mut self, other: Self) {
        if let Some((first, last)) = other.0 {
            let (a, b) = self.0.unwrap_or((first, last));
            self.0 = Some((a.min(first), b.max(last)));
        }
    }

    /// First and last layer.
    pub(super) fn layers(self) -> Option<(u32, u32)> {
        self.0
    }
}
