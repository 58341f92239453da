//! The kinds of mutations.

/// Declares the kinds with what each does, in words.
macro_rules! kinds {
    ($($kind:ident $words:literal,)*) => {
        /// What is changed in a file.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub(crate) enum Kind {
            $($kind,)*
        }

        impl Kind {
            pub(crate) const ALL: &[Self] = &[$(Self::$kind,)*];

            pub(crate) fn words(self) -> &'static str {
                match self {
                    $(Self::$kind => $words,)*
                }
            }
        }
    };
}

kinds! {
    HatchAlong "a mark of the hatch shifted along its line, 10 to 200 µm",
    HatchAcross "a mark of the hatch shifted across, 10 to 200 µm",
    HatchDropped "a mark of the hatch left out",
    HatchTwice "a mark of the hatch doubled",
    HatchSplit "a mark of the hatch split, with a gap of 20 to 300 µm",
    HatchShorter "a mark of the hatch 0.1 mm shorter at both ends",
    HatchLonger "a mark of the hatch 20 to 200 µm longer",
    HatchReversed "a mark of the hatch reversed",
    HatchExtra "one more mark of the hatch, somewhere inside",
    HatchPoints "marks of no length in the hatch",
    BlockShorter "all marks of a hatch 0.1 mm shorter at both ends",
    BlockDropped "all hatch of a block left out",
    BlockTwice "all hatch of a block doubled",
    BlockExposure "all hatch of a block with another exposure",
    BlockRotated "all hatch of a block rotated by 0.5° to 30°",
    BlockThinned "every other line of a hatch left out",
    BlockStretched "the spacing of a hatch 2 to 10 % larger",
    ThinHatchDropped "short hatch of a block left out, as in walls of 1.2 to 1.7 mm",
    ContourDropped "a contour left out",
    ContourTwice "a contour doubled",
    ContourBlockDropped "all contours of a block left out",
    ContourBlockTwice "all contours of a block doubled",
    ContourExposure "all contours of a block with another exposure",
    ContourOpened "a contour without its last mark",
    ContourVertex "a corner of a contour moved by 15 to 200 µm",
    ContourShifted "a contour shifted by 15 to 100 µm",
    CentrelineDropped "a centreline left out",
    CentrelineTwice "a centreline doubled",
    CentrelineExposure "all centrelines of a block with another exposure",
    CentrelineShifted "a centreline shifted by 20 to 100 µm",
    BlockRelabelled "a block said to be contours, hatch or centrelines, though it is not",
    BlockRegion "a block said to be core, up-facing or down-facing, though it is not",
    BlockPlacement "a block said to belong to another placement",
    BlocksSwapped "two neighbouring blocks of a placement in the other order",
    PartsSwapped "neighbouring blocks of two placements in the other order",
    HatchBeforeContours "contours and hatch of a region in the other order",
    ContourOrder "contours of a block in the other order",
    PassesSwapped "the exposures of two passes exchanged",
    OtherPlacement "marks of another placement repeated in a block",
    Outside "one more mark outside of the part",
    LayersSwapped "two neighbouring layers in the other order",
    LayerRepeated "a layer repeated in place of its neighbour",
    LayerEmptied "a layer without marks",
    GrowthLeftOut "a layer without regard to growth in Z",
    TablePower "the power of an exposure changed by 1 to 50 %",
    TableSpeed "the speed of an exposure changed by 1 to 50 %",
    TableRunIn "the run-in of an exposure changed",
    TableName "an exposure renamed",
    TableSwapped "two rows of the exposures exchanged",
    PartName "a part renamed",
    JobName "the job renamed",
    MachineName "the machine renamed",
    Spreading "another direction of spreading",
    Bounds "the bounds of a placement shifted",
    Thickness "another layer thickness",
    JumpSpeed "another speed of jumps",
}
