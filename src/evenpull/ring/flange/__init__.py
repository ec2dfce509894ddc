"""One flange pair from drawing data: cross-section finite elements, Fourier harmonics round the axis, condensed."""
