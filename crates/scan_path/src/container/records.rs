//! The ZIP records as SPEC.md lays them down, byte for byte.

/// Fields of this value refer to the ZIP64 record instead.
const IN_ZIP64: u32 = u32::MAX;
const IN_ZIP64_COUNT: u16 = u16::MAX;
/// 1980-01-01, the first day that ZIP knows: the bytes must not depend on a clock.
const DATE: u16 = (1 << 5) | 1;
const VERSION_DEFLATE: u16 = 20;
const VERSION_ZIP64: u16 = 45;

/// One entry of the container's directory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entry {
    pub(crate) name: String,
    pub(crate) deflated: bool,
    /// CRC-32 of the content before compression.
    pub(crate) crc: u32,
    /// Bytes before compression; below 4 GiB for what we write.
    pub(crate) size: u64,
    /// Bytes in the file; below 4 GiB for what we write.
    pub(crate) packed_size: u64,
    /// Position of the local record in the file.
    pub(crate) offset: u64,
}

impl Entry {
    fn far(&self) -> bool {
        self.offset >= u64::from(IN_ZIP64)
    }

    /// Version, flags, method, time, date, CRC and sizes: the same in both records.
    fn common(&self, version: u16) -> Vec<u8> {
        let mut out = Vec::with_capacity(64 + self.name.len());
        let flags = if self.name.is_ascii() { 0 } else { 1 << 11 };
        let method = if self.deflated { 8 } else { 0 };
        for field in [version, flags, method, 0, DATE] {
            out.extend(u16::to_le_bytes(field));
        }
        for field in [self.crc, low_u32(self.packed_size), low_u32(self.size)] {
            out.extend(field.to_le_bytes());
        }
        out.extend(low_u16(self.name.len() as u64).to_le_bytes());
        out
    }

    /// The record before the entry's data.
    pub(crate) fn local_record(&self) -> Vec<u8> {
        let mut out = b"PK\x03\x04".to_vec();
        out.extend(self.common(VERSION_DEFLATE));
        out.extend([0; 2]); // extra field
        out.extend(self.name.as_bytes());
        out
    }

    /// The record in the directory.
    pub(crate) fn central_record(&self) -> Vec<u8> {
        let version = if self.far() { VERSION_ZIP64 } else { VERSION_DEFLATE };
        let mut out = b"PK\x01\x02".to_vec();
        out.extend(version.to_le_bytes()); // made by; the high byte 0 asks for no attributes
        out.extend(self.common(version));
        out.extend(if self.far() { 12_u16 } else { 0 }.to_le_bytes());
        out.extend([0; 10]); // comment length, volume, internal and external attributes
        out.extend(low_u32(self.offset).to_le_bytes());
        out.extend(self.name.as_bytes());
        if self.far() {
            out.extend([1, 0, 8, 0]); // ZIP64 extra field of 8 bytes
            out.extend(self.offset.to_le_bytes());
        }
        out
    }
}

/// What follows the directory of `count` entries, which begins at `start` and has `size` bytes.
pub(crate) fn end_records(count: u64, start: u64, size: u64) -> Vec<u8> {
    let mut out = Vec::new();
    let zip64 = count >= u64::from(IN_ZIP64_COUNT)
        || start >= u64::from(IN_ZIP64)
        || size >= u64::from(IN_ZIP64);
    if zip64 {
        out.extend(b"PK\x06\x06");
        out.extend(44_u64.to_le_bytes()); // bytes of this record that follow
        out.extend(VERSION_ZIP64.to_le_bytes());
        out.extend(VERSION_ZIP64.to_le_bytes());
        out.extend([0; 8]); // volumes
        for field in [count, count, size, start] {
            out.extend(field.to_le_bytes());
        }
        out.extend(b"PK\x06\x07");
        out.extend([0; 4]); // volume
        out.extend((start + size).to_le_bytes());
        out.extend(1_u32.to_le_bytes()); // volumes
    }
    out.extend(b"PK\x05\x06");
    out.extend([0; 4]); // volumes
    out.extend(low_u16(count).to_le_bytes());
    out.extend(low_u16(count).to_le_bytes());
    out.extend(low_u32(size).to_le_bytes());
    out.extend(low_u32(start).to_le_bytes());
    out.extend([0; 2]); // comment
    out
}

fn low_u32(value: u64) -> u32 {
    u32::try_from(value).unwrap_or(IN_ZIP64)
}

fn low_u16(value: u64) -> u16 {
    u16::try_from(value).unwrap_or(IN_ZIP64_COUNT)
}

pub(super) fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

pub(super) fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from(u16_at(bytes, at)) | (u32::from(u16_at(bytes, at + 2)) << 16)
}

pub(super) fn u64_at(bytes: &[u8], at: usize) -> u64 {
    u64::from(u32_at(bytes, at)) | (u64::from(u32_at(bytes, at + 4)) << 32)
}
