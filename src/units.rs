//! Units and rounding: the one place where numbers become text and texts become lengths.
