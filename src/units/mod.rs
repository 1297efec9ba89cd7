//! Quantities at the edges: parse `71km`, show K or °F. SI inside, everywhere.
