//! Audibility of a voice: bounds and names stand beside the balance, where the boards are built; here its silence.

use deskside::relate::audibility::audibility;
use deskside::relate::board::Board;
use deskside::unit::{Span, Unmeasured};

#[test]
fn nothing_is_told_where_nothing_was_read() {
    let board = Board::new(&[0, 1], &[Span::new(0.0, 30.0)]);
    let all = [Span::new(0.0, 30.0)];
    let found = audibility(&board, &[0], &[1], all[0], &all);
    assert!(matches!(found, Err(Unmeasured::TooLittleActive { .. })), "{found:?}");
}
