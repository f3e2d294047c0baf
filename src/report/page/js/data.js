// Reading the content: blocks of base64, each a gzip stream, that join to a header (JSON) and
// packed sections.

function bytesOfBase64(text) {
  const letters = atob(text);
  const bytes = new Uint8Array(letters.length);
  for (let i = 0; i < letters.length; i++) bytes[i] = letters.charCodeAt(i);
  return bytes;
}

async function inflated(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

async function readContent() {
  const blocks = document.querySelectorAll('script[type="application/octet-stream;base64"]');
  const pieces = await Promise.all(Array.from(blocks, (block) => {
    const bytes = bytesOfBase64(block.textContent);
    // Its text is not needed twice in memory.
    block.textContent = "";
    return inflated(bytes);
  }));
  const bytes = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let end = 0;
  for (const piece of pieces) {
    bytes.set(piece, end);
    end += piece.length;
  }
  const headerLength = new DataView(bytes.buffer).getUint32(0, true);
  const header = JSON.parse(new TextDecoder().decode(bytes.subarray(4, 4 + headerLength)));
  return new Content(header, bytes.subarray(4 + headerLength));
}

class Content {
  constructor(header, bytes) {
    this.header = header;
    this.bytes = bytes;
    this.sections = new Map(header.sections.map((section) => [section.name, section]));
    this.unpacked = new Map();
  }

  // The numbers of a section, tuple by tuple.
  get(name) {
    if (!this.unpacked.has(name)) {
      const section = this.sections.get(name);
      const bytes = this.bytes.subarray(section.start, section.start + section.bytes);
      this.unpacked.set(name, unpack[section.kind](bytes, section.count, section.width));
    }
    return this.unpacked.get(name);
  }
}

const unpack = {
  bytes: (bytes) => bytes,
  u32(bytes, count, width) {
    const out = new Uint32Array(count * width);
    for (let c = 0; c < width; c++) {
      const p = 4 * c * count;
      let value = 0;
      for (let i = 0; i < count; i++) {
        const coded = bytes[p + i] | (bytes[p + count + i] << 8) |
          (bytes[p + 2 * count + i] << 16) | (bytes[p + 3 * count + i] << 24);
        value = (value + ((coded >>> 1) ^ -(coded & 1))) >>> 0;
        out[i * width + c] = value;
      }
    }
    return out;
  },
  u16(bytes, count, width) {
    const out = new Uint16Array(count * width);
    for (let c = 0; c < width; c++) {
      const p = 2 * c * count;
      let value = 0;
      for (let i = 0; i < count; i++) {
        const coded = bytes[p + i] | (bytes[p + count + i] << 8);
        value = (value + ((coded >>> 1) ^ -(coded & 1))) & 0xffff;
        out[i * width + c] = value;
      }
    }
    return out;
  },
  f32: (bytes, count, width) => floats(bytes, count, width, 4),
  f20: (bytes, count, width) => floats(bytes, count, width, 3),
};

// Floats of which the upper `planes` bytes are held.
function floats(bytes, count, width, planes) {
  const bits = new Uint32Array(count * width);
  for (let c = 0; c < width; c++) {
    for (let k = 0; k < planes; k++) {
      const p = (c * planes + k) * count;
      const shift = 8 * (k + 4 - planes);
      for (let i = 0; i < count; i++) bits[i * width + c] |= bytes[p + i] << shift;
    }
  }
  return new Float32Array(bits.buffer);
}
