//! What to adjust: which foot, which way, how far; or why nothing is to be adjusted at the feet.

mod advise;
mod aim;
mod feet;
mod response;
mod tailstock;
mod values;
mod window;
mod words;

pub use advise::advise;
pub use values::{Correction, Expected, FootMove, Learned, Reason, Turning};
pub use window::{USUAL_LIMIT, Window};
