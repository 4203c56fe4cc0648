//! Conducts the stages of a review.
