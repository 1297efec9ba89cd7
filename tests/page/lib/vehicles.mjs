// Vehicles that the tests write themselves: small, in the formats of the reference, and broken on purpose.

import { mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { crc32, deflateRawSync } from "node:zlib";

/** A row of flat tiles on a plate that lies under the flow; one OBJ group a tile. Names may be any text without a line end. */
export function plate(names = ["P-01", "P-02", "P-03", "P-04", "P-05", "P-06"]) {
  const obj = ["# a plate of square tiles, x aft, y right, z up, metres; the outer face looks down"];
  const table = ["tile,material,thickness_mm,zone"];
  names.forEach((name, i) => {
    const x = 0.5 + 0.2 * Math.floor(i / 2);
    const y = i % 2 === 0 ? 0 : -0.2;
    obj.push(`g ${name}`);
    for (const [dx, dy] of [[0, 0], [0.198, 0], [0.198, 0.198], [0, 0.198]]) obj.push(`v ${(x + dx).toFixed(4)} ${(y + dy).toFixed(4)} ${(-0.02 * x - 0.02 * dx).toFixed(5)}`);
    const first = 4 * i + 1;
    obj.push(`f ${first} ${first + 3} ${first + 2} ${first + 1}`);
    table.push(`${/[",]/.test(name) ? `"${name.replaceAll('"', '""')}"` : name},LI-900,${30 + 5 * i},plate`);
  });
  return { "vehicle.obj": `${obj.join("\n")}\n`, "tiles.csv": `${table.join("\n")}\n` };
}

/** Writes a vehicle's files into a folder and returns the folder. */
export function written(folder, files) {
  mkdirSync(folder, { recursive: true });
  for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
  return folder;
}

/** The files of a folder as base64, to be made `File` objects in the page. */
export function packed(folder) {
  return readdirSync(folder).map((name) => ({ name, base64: readFileSync(join(folder, name)).toString("base64") }));
}

/** A zip of these files within a folder, stored or deflated, as any archiver writes one. */
export function zipped(name, files) {
  const [parts, list] = [[], []];
  let offset = 0;
  for (const { name: path, base64 } of files) {
    const bytes = Buffer.from(base64, "base64");
    const packed = deflateRawSync(bytes);
    const label = Buffer.from(path);
    // Version 2.0, UTF-8 names, deflate, 1 January 1980.
    const common = Buffer.alloc(26);
    [20, 0x800, 8, 0, 33].forEach((value, i) => common.writeUInt16LE(value, 2 * i));
    [crc32(bytes), packed.length, bytes.length].forEach((value, i) => common.writeUInt32LE(value, 10 + 4 * i));
    common.writeUInt16LE(label.length, 22);
    parts.push(Buffer.from("PK\x03\x04", "latin1"), common, label, packed);
    const tail = Buffer.alloc(14);
    tail.writeUInt32LE(offset, 10);
    list.push(Buffer.from("PK\x01\x02\x14\x00", "latin1"), common, tail, label);
    offset += 30 + label.length + packed.length;
  }
  const directory = Buffer.concat(list);
  const end = Buffer.alloc(22);
  end.write("PK\x05\x06", "latin1");
  [files.length, files.length].forEach((value, i) => end.writeUInt16LE(value, 8 + 2 * i));
  end.writeUInt32LE(directory.length, 12);
  end.writeUInt32LE(offset, 16);
  return { name, base64: Buffer.concat([...parts, directory, end]).toString("base64") };
}

/** The same for texts in memory. */
export const packedTexts = (files) => Object.entries(files).map(([name, text]) => ({ name, base64: Buffer.from(text).toString("base64") }));

/** `tileglow.load` with these files; resolves to null or to the text of the refusal. */
export function load(page, files) {
  return page.evaluate(async (files) => {
    const made = files.map(({ name, base64 }) => new File([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], name));
    try {
      await window.tileglow.load(made);
      return null;
    } catch (why) {
      return words(why);
    }
    function words(why) {
      if (Array.isArray(why)) return why.map(words).join("\n");
      return [why?.message ?? String(why), ...(Array.isArray(why?.problems) ? why.problems.map(String) : [])].join("\n");
    }
  }, files);
}

/** Drops these files on the shield, as a person would from a file manager. */
export async function drop(page, files) {
  const data = await page.evaluateHandle((files) => {
    const transfer = new DataTransfer();
    for (const { name, base64 } of files) transfer.items.add(new File([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], name));
    return transfer;
  }, files);
  for (const event of ["dragenter", "dragover", "drop"]) await page.dispatchEvent("#stage", event, { dataTransfer: data });
}

/** `tileglow.open` with a scenario; resolves to null or to the text of the refusal. */
export function open(page, scenario) {
  return page.evaluate(async (scenario) => {
    try {
      await window.tileglow.open(scenario);
      return null;
    } catch (why) {
      const words = (w) => (Array.isArray(w) ? w.map(words).join("\n") : [w?.message ?? String(w), ...(Array.isArray(w?.problems) ? w.problems.map(String) : [])].join("\n"));
      return words(why);
    }
  }, scenario);
}
