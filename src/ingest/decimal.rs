use super::blocks::Blocks;
use super::bounds::MOST_LINE;
use super::lines::{Lines, Separator, split_cells};
use super::numbers::DecimalMark;

/// The decimal mark of a whole file, from the cells of its numeric columns: the comma when only commas stand in numbers, or more
/// commas than points; else the point. `blocks` are the lines below the header.
pub(super) fn decimal_mark(separator: Separator, numeric: &[usize], blocks: &mut Blocks<'_>) -> DecimalMark {
    let marker = if separator == Separator::Comma { b'"' } else { b',' };
    if !blocks.hold(marker) {
        return DecimalMark::Point;
    }
    let (mut commas, mut points) = (0_u64, 0_u64);
    blocks.each(|block| {
        let mut rows = Lines::new(block);
        let mut cells = Vec::new();
        while let Some((_, line)) = rows.next_row() {
            if line.len() > MOST_LINE || split_cells(line, separator, &mut cells).is_err() {
                continue;
            }
            for cell in numeric.iter().filter_map(|index| cells.get(*index)) {
                if !cell.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.' | ',' | '−')) {
                    continue;
                }
                match (cell.contains(','), cell.contains('.')) {
                    (true, false) => commas += 1,
                    (false, true) => points += 1,
                    _ => {}
                }
            }
        }
    });
    if commas > points { DecimalMark::Comma } else { DecimalMark::Point }
}
