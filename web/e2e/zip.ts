import { crc32 } from 'node:zlib';

/** One file as a zip, stored as it is (PKWARE APPNOTE: local header, data, central directory, its end). */
export function zip(name: string, data: Buffer): Buffer {
  const label = Buffer.from(name, 'utf8');
  // From "version needed" to "extra length", the same in both headers: stored, no date.
  const common = Buffer.alloc(26);
  common.writeUInt16LE(20, 0);
  common.writeUInt16LE(33, 8);
  common.writeUInt32LE(crc32(data), 10);
  common.writeUInt32LE(data.length, 14);
  common.writeUInt32LE(data.length, 18);
  common.writeUInt16LE(label.length, 22);
  const local = Buffer.concat([Buffer.from('PK\x03\x04', 'latin1'), common, label, data]);
  const made = Buffer.from([20, 0]);
  const central = Buffer.concat([Buffer.from('PK\x01\x02', 'latin1'), made, common, Buffer.alloc(14), label]);
  const end = Buffer.alloc(22);
  end.write('PK\x05\x06', 'latin1');
  end.writeUInt16LE(1, 8);
  end.writeUInt16LE(1, 10);
  end.writeUInt32LE(central.length, 12);
  end.writeUInt32LE(local.length, 16);
  return Buffer.concat([local, central, end]);
}
