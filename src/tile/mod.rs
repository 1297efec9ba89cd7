//! What one tile does with the heat that reaches it.
//!
//! | file | idea |
//! | --- | --- |
//! | `equilibrium` | radiative equilibrium of the face with the hot-wall correction |
