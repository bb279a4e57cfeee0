/// A photograph in the trial's folder, for the acceptance paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photograph {
    /// Its file's name.
    pub file: String,
    /// `image/jpeg` or `image/png`, told from its bytes.
    pub media_type: &'static str,
    /// The file as it is.
    pub bytes: Vec<u8>,
}
