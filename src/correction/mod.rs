//! What to adjust: which foot, which way, how far; or why nothing is to be adjusted at the feet.

mod advise;
mod aim;
mod at_feet;
mod contradiction;
mod feet;
mod response;
mod tailstock;
mod values;
mod window;
mod words;

pub use advise::{Beside, advise};
pub use contradiction::{Contradiction, check_first, contradiction_findings, contradictions, take_back, undecided, who_contradicts};
pub use values::{Correction, Expected, FootMove, Judged, Learned, Reason, Turning};
pub use window::{USUAL_LIMIT, Window};
pub use words::{cannot_tell, culprit, listed, next_test};
