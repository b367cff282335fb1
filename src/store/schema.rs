//! How a row type becomes a table: one definition gives the struct, its column names and units.

/// A column's values, ready for Arrow or polars.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    Float(Vec<Option<f64>>),
    Int(Vec<Option<i64>>),
    Text(Vec<Option<String>>),
    Bool(Vec<Option<bool>>),
}

/// One column of a season table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    pub name: &'static str,
    /// UCUM code; empty for text and flags.
    pub unit: &'static str,
    pub values: Values,
}

/// A row type of the season's tables.
pub trait Row: Sized {
    /// Table name, also the Parquet file's stem.
    const TABLE: &'static str;
    fn columns(rows: &[Self]) -> Vec<Column>;
}

/// Types that can stand in a cell.
pub trait Cell {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values
    where
        Self: 'a;
}

impl Cell for f64 {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Float(cells.map(|v| v.is_finite().then_some(*v)).collect())
    }
}
impl Cell for Option<f64> {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Float(cells.map(|v| v.filter(|v| v.is_finite())).collect())
    }
}
impl Cell for i64 {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Int(cells.map(|v| Some(*v)).collect())
    }
}
impl Cell for Option<i64> {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Int(cells.copied().collect())
    }
}
impl Cell for String {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Text(cells.map(|v| Some(v.clone())).collect())
    }
}
impl Cell for Option<String> {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Text(cells.cloned().collect())
    }
}
impl Cell for bool {
    fn gather<'a>(cells: impl Iterator<Item = &'a Self>) -> Values {
        Values::Bool(cells.map(|v| Some(*v)).collect())
    }
}

/// Defines a row struct and its columns in one place.
#[macro_export]
macro_rules! table {
    ($(#[$meta:meta])* $row:ident = $table:literal { $($(#[$doc:meta])* $field:ident : $ty:ty = $unit:literal,)* }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Default, PartialEq, serde::Serialize, serde::Deserialize)]
        pub struct $row { $($(#[$doc])* pub $field: $ty,)* }
        impl $crate::store::schema::Row for $row {
            const TABLE: &'static str = $table;
            fn columns(rows: &[Self]) -> Vec<$crate::store::schema::Column> {
                vec![$($crate::store::schema::Column {
                    name: stringify!($field),
                    unit: $unit,
                    values: <$ty as $crate::store::schema::Cell>::gather(rows.iter().map(|r| &r.$field)),
                },)*]
            }
        }
    };
}
