//! The versioned document that holds every choice, and its link.
