//! Tables, digests and texts made from an assessment.
