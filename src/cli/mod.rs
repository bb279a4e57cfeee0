//! Arguments, batch, progress, exit status.

mod arguments;
mod console;
mod excerpt;
mod names;
mod picture;
mod settings;
mod status;

pub use arguments::Arguments;
pub use console::Console;
pub use names::{NamedTrial, file_name, file_names};
pub use picture::{all_drawn, drawn};
pub use settings::{Input, Settings, Surroundings, Task, resolve};
pub use status::Status;
