//! The memory that a picture may take.

use rushlight::frame::Limits;

#[derive(Debug, clap::Args)]
pub(crate) struct Memory {
    /// Largest picture to read, as MiB of its samples in single precision; with `preview`, all its frames together
    #[arg(long, value_name = "MIB", default_value_t = 1024, value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) max_memory: u32,
}

impl Memory {
    pub(crate) fn limits(&self) -> Limits {
        Limits { memory: usize::try_from(u64::from(self.max_memory) << 20).unwrap_or(usize::MAX) }
    }
}
