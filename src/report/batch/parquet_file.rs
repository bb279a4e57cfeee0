//! A table as a Parquet file: one row group, uncompressed, every column optional.

use super::table::{Cells, Table};
use parquet::basic::{LogicalType, Repetition, Type as PhysicalType};
use parquet::data_type::{ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;
use std::sync::Arc;

/// Why a table did not become a Parquet file.
#[derive(Debug, thiserror::Error)]
#[error("the table cannot be packed: {0}")]
pub struct CannotPack(#[from] ParquetError);

/// The bytes of `table` as a Parquet file: text as UTF-8 strings, counts as 64-bit whole numbers, numbers as doubles. The same table gives the same bytes.
///
/// # Errors
/// When columns are not of one length.
pub(super) fn pack(table: &Table) -> Result<Vec<u8>, CannotPack> {
    let fields = table.columns.iter().map(|(name, cells)| field(name, cells).map(Arc::new)).collect::<Result<_, _>>()?;
    let schema = Type::group_type_builder("summary").with_fields(fields).build()?;
    let made_by = concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION"));
    let properties = WriterProperties::builder().set_created_by(made_by.to_owned()).build();
    let mut file = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    let mut group = file.next_row_group()?;
    for (_, cells) in &table.columns {
        match cells {
            Cells::Text(cells) => write::<ByteArrayType, _>(&mut group, cells, |text| ByteArray::from(text.as_str()))?,
            Cells::Count(cells) => write::<Int64Type, _>(&mut group, cells, |count| *count)?,
            Cells::Number(cells) => write::<DoubleType, _>(&mut group, cells, |number| *number)?,
        }
    }
    group.close()?;
    Ok(file.into_inner()?)
}

fn field(name: &str, cells: &Cells) -> Result<Type, ParquetError> {
    let (physical, logical) = match cells {
        Cells::Text(_) => (PhysicalType::BYTE_ARRAY, Some(LogicalType::String)),
        Cells::Count(_) => (PhysicalType::INT64, None),
        Cells::Number(_) => (PhysicalType::DOUBLE, None),
    };
    Type::primitive_type_builder(name, physical).with_repetition(Repetition::OPTIONAL).with_logical_type(logical).build()
}

/// Writes the next column: the values that are there, and for every row whether it has one.
fn write<T: DataType, C>(
    group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    cells: &[Option<C>],
    value: impl Fn(&C) -> T::T,
) -> Result<(), ParquetError> {
    let values: Vec<T::T> = cells.iter().flatten().map(value).collect();
    let present: Vec<i16> = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    let mut column = group.next_column()?.ok_or_else(|| ParquetError::General("a column without a field".to_owned()))?;
    column.typed::<T>().write_batch(&values, Some(&present), None)?;
    column.close()
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field;
    use std::io::Write;

    fn table() -> Table {
        Table {
            columns: vec![
                ("text", Cells::Text(vec![Some("=1+1".to_owned()), None, Some("Größe".to_owned())])),
                ("count", Cells::Count(vec![None, Some(-3), Some(i64::MAX)])),
                ("number", Cells::Number(vec![Some(0.1), Some(-1.5e-300), None])),
            ],
        }
    }

    fn read(bytes: Vec<u8>) -> Vec<Vec<(String, Field)>> {
        let mut kept = tempfile::tempfile().unwrap();
        kept.write_all(&bytes).unwrap();
        let file = SerializedFileReader::new(kept).unwrap();
        let rows = file.get_row_iter(None).unwrap();
        rows.map(|row| row.unwrap().get_column_iter().map(|(name, field)| (name.clone(), field.clone())).collect()).collect()
    }

    #[test]
    fn what_is_packed_is_read_back() {
        let rows = read(pack(&table()).unwrap());
        let cell = |row: usize, column: usize| rows[row][column].1.clone();
        assert_eq!(rows.len(), 3);
        assert_eq!(rows[0].iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), ["text", "count", "number"]);
        assert_eq!((cell(0, 0), cell(1, 0), cell(2, 0)), (Field::Str("=1+1".into()), Field::Null, Field::Str("Größe".into())));
        assert_eq!((cell(0, 1), cell(1, 1), cell(2, 1)), (Field::Null, Field::Long(-3), Field::Long(i64::MAX)));
        assert_eq!((cell(0, 2), cell(1, 2), cell(2, 2)), (Field::Double(0.1), Field::Double(-1.5e-300), Field::Null));
        assert_eq!(pack(&table()).unwrap(), pack(&table()).unwrap());
    }

    #[test]
    fn unequal_columns_are_refused() {
        let mut table = table();
        table.columns.push(("short", Cells::Count(vec![Some(1)])));
        assert!(pack(&table).is_err());
    }
}
