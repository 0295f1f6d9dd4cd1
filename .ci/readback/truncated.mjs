// Reads a recording that was cut short at each of the given bytes, with public
// libraries alone. For each it prints, as JSON, how many frames could be read,
// the SHA-256 of their contents, one line a frame, and what refused the rest.
// AT+N is a file that was cut at AT and then holds N zeros.
//
//   npm ci && node truncated.mjs FILE AT... AT+N...

import { createHash } from "node:crypto";
import { readFile } from "node:fs/promises";
import { McapStreamReader } from "@mcap/core";
import { decompress } from "fzstd";
import protobuf from "protobufjs";
import descriptor from "protobufjs/ext/descriptor.js";

const [path, ...cuts] = process.argv.slice(2);
if (!cuts.length) {
  console.error("usage: node truncated.mjs FILE AT...");
  process.exit(2);
}
const file = await readFile(path);

function read(bytes) {
  const reader = new McapStreamReader({
    decompressHandlers: { zstd: (packed, size) => decompress(packed, new Uint8Array(Number(size))) },
  });
  const types = new Map();
  const channels = new Map();
  const hash = createHash("sha256");
  let frames = 0;
  let refused = "";
  try {
    reader.append(bytes);
    for (let r; (r = reader.nextRecord()); ) {
      if (r.type === "Schema") {
        const root = protobuf.Root.fromDescriptor(descriptor.FileDescriptorSet.decode(r.data));
        types.set(r.id, root.lookupType(r.name));
      } else if (r.type === "Channel") {
        channels.set(r.id, r);
      } else if (r.type === "Message" && channels.get(r.channelId).topic !== "events") {
        const { topic, schemaId } = channels.get(r.channelId);
        const type = types.get(schemaId);
        const m = type.toObject(type.decode(r.data), { longs: String });
        hash.update(`${topic} ${m.tUs ?? 0} ${m.arrivalNs ?? 0} ${m.seq ?? "-"} ${(m.counts ?? []).join()}\n`);
        frames++;
      }
    }
  } catch (error) {
    refused = error.message;
  }
  return { frames, sha256: hash.digest("hex"), refused, whole: reader.done() };
}

const results = cuts.map((cut) => {
  const [at, zeros = 0] = cut.split("+").map(Number);
  return read(Buffer.concat([file.subarray(0, at), Buffer.alloc(zeros)]));
});
console.log(JSON.stringify(results));
