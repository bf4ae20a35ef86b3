//! Exposure tags of EXIF (CIPA DC-008).

use super::Exposure;
use exif::{Exif, In, Reader, Tag, Value};

/// What a block of EXIF, or a whole TIFF file, says of the exposure; nothing where it is broken: a picture can be read
/// without.
pub(super) fn exposure(tiff: &[u8]) -> Exposure {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    let read = reader.read_raw(tiff.to_vec()).or_else(|e| e.distill_partial_result(|_| ()));
    let Ok(exif) = read else {
        return Exposure::default();
    };
    Exposure {
        time: positive(&exif, Tag::ExposureTime),
        f_number: positive(&exif, Tag::FNumber),
        iso: positive(&exif, Tag::PhotographicSensitivity),
    }
}

fn positive(exif: &Exif, tag: Tag) -> Option<f64> {
    let value = match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(list) => list.first()?.to_f64(),
        other => f64::from(other.get_uint(0)?),
    };
    (value.is_finite() && value > 0.0).then_some(value)
}
