//! The committed reference tables, and the largest difference from them.

/// One row of a table in fixtures/reference.
#[derive(Debug, Clone)]
pub struct Row(Vec<String>);

impl Row {
    /// The text of a cell.
    pub fn text(&self, column: usize) -> &str {
        &self.0[column]
    }

    /// The numbers from a cell on; an empty cell is NaN.
    pub fn numbers<const N: usize>(&self, from: usize) -> [f64; N] {
        let number = |cell: &str| if cell.is_empty() { f64::NAN } else { cell.parse().expect("a number") };
        std::array::from_fn(|i| number(&self.0[from + i]))
    }
}

/// The rows of fixtures/reference/`name` below its comments and its line of column names.
pub fn table(name: &str) -> Vec<Row> {
    let path = format!("{}/../fixtures/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the fixture is there");
    reader.records().map(|r| Row(r.expect("a whole row").iter().map(str::to_owned).collect())).collect()
}

/// The largest of many differences and where it is.
#[derive(Debug)]
pub struct Worst {
    differs: f64,
    at: String,
}

impl Default for Worst {
    fn default() -> Self {
        Self { differs: -1.0, at: String::new() }
    }
}

impl Worst {
    /// Notes a difference; a NaN is the worst of all.
    pub fn add(&mut self, differs: f64, at: impl std::fmt::Debug) {
        if differs.is_nan() || differs > self.differs {
            *self = Self { differs, at: format!("{at:?}") };
        }
    }

    /// Fails when a difference was over `tolerance`, or when none was noted.
    #[track_caller]
    pub fn within(self, tolerance: f64) {
        let Self { differs, at } = self;
        println!("{at}: {differs:e}, allowed {tolerance:e}");
        assert!((0.0..=tolerance).contains(&differs), "{at}: {differs:e} over {tolerance:e}");
    }
}
