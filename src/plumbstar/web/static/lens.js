// What a picture's file tells of its lens, and nothing else: where it was taken is never looked up.

/**
 * The focal length as told for 35 mm film, or null (Exif 2.3, from memory: 0xA405 in the Exif part,
 * 0xA404 the digital zoom; whether the one holds the other differs from phone to phone, so a zoomed
 * picture's is left aside).
 * @param {DataView} file the first part of a JPEG
 * @returns {number | null}
 */
export function lensMm(file) {
  try {
    return inJpeg(file);
  } catch {
    return null; // cut short or damaged: a RangeError of the view
  }
}

/** @param {DataView} v */
function inJpeg(v) {
  if (v.getUint16(0) !== 0xffd8) return null;
  for (let at = 2; v.getUint8(at) === 0xff; at += 2 + v.getUint16(at + 2)) {
    if (v.getUint8(at + 1) === 0xe1 && v.getUint32(at + 4) === 0x45786966) return inTiff(v, at + 10);
    if (v.getUint8(at + 1) === 0xda) return null; // the picture itself begins
  }
  return null;
}

/**
 * @param {DataView} v
 * @param {number} start
 */
function inTiff(v, start) {
  const little = v.getUint16(start) === 0x4949;
  const part = entryAt(v, start, start + v.getUint32(start + 4, little), 0x8769, little);
  if (!part) return null;
  const from = start + v.getUint32(part + 8, little);
  const zoom = entryAt(v, start, from, 0xa404, little);
  if (zoom) {
    const held = start + v.getUint32(zoom + 8, little);
    const [over, under] = [v.getUint32(held, little), v.getUint32(held + 4, little)];
    if (under && over / under > 1.01) return null;
  }
  const lens = entryAt(v, start, from, 0xa405, little);
  if (!lens) return null;
  const mm = v.getUint16(lens + 2, little) === 4 ? v.getUint32(lens + 8, little) : v.getUint16(lens + 8, little);
  return mm >= 8 && mm <= 400 ? mm : null;
}

/**
 * @param {DataView} v
 * @param {number} start
 * @param {number} from
 * @param {number} tag
 * @param {boolean} little
 */
function entryAt(v, start, from, tag, little) {
  const n = v.getUint16(from, little);
  for (let i = 0; i < n; i++) {
    const at = from + 2 + 12 * i;
    if (v.getUint16(at, little) === tag) return at;
  }
  return 0;
}
