//! Tables, digests and texts made from an assessment.
//!
//! | file | idea |
//! | --- | --- |
//! | `ramp` | value to colour: the ramps, the scale, the fills |

pub mod ramp;
