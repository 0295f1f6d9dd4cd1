// Reads a recording with public libraries alone and prints a summary as JSON.
// It knows what the MCAP file says of itself and how the id of a recording is
// computed (device/recording/doc.go), and nothing else.
//
//   npm ci && node readback.mjs FILE.mcap

import { createHash } from "node:crypto";
import { open } from "node:fs/promises";
import { McapIndexedReader } from "@mcap/core";
import { decompress } from "fzstd";
import protobuf from "protobufjs";
import descriptor from "protobufjs/ext/descriptor.js";

if (process.argv.length !== 3) {
  console.error("usage: node readback.mjs FILE.mcap");
  process.exit(2);
}

const file = await open(process.argv[2]);
const readable = {
  size: async () => BigInt((await file.stat()).size),
  read: async (offset, length) => {
    const bytes = new Uint8Array(Number(length));
    const { bytesRead } = await file.read(bytes, 0, bytes.length, Number(offset));
    if (bytesRead !== bytes.length) {
      throw new Error(`${bytes.length} bytes wanted at ${offset}, ${bytesRead} read`);
    }
    return bytes;
  },
};
const reader = await McapIndexedReader.Initialize({
  readable,
  decompressHandlers: { zstd: (packed, size) => decompress(packed, new Uint8Array(Number(size))) },
});

const types = new Map();
for (const schema of reader.schemasById.values()) {
  if (schema.encoding !== "protobuf") {
    throw new Error(`schema ${schema.name} is in ${schema.encoding}`);
  }
  const root = protobuf.Root.fromDescriptor(descriptor.FileDescriptorSet.decode(schema.data));
  types.set(schema.id, root.lookupType(schema.name));
}

const channels = {};
for (const channel of reader.channelsById.values()) {
  channels[channel.topic] = { schema: reader.schemasById.get(channel.schemaId).name, messages: 0 };
}

const hashes = { left: createHash("sha256"), right: createHash("sha256"), events: createHash("sha256") };

let last = 0n;
let ordered = true;
for await (const message of reader.readMessages({ validateCrcs: true })) {
  const channel = reader.channelsById.get(message.channelId);
  const type = types.get(channel.schemaId);
  const sum = channels[channel.topic];
  ordered &&= message.logTime >= last && message.sequence === sum.messages;
  last = message.logTime;
  sum.messages++;
  const length = Buffer.alloc(4);
  length.writeUInt32LE(message.data.length);
  hashes[channel.topic].update(length).update(message.data);
  const m = type.toObject(type.decode(message.data), { longs: String });
  if (channel.topic === "events") {
    (sum.texts ??= []).push(m.text ?? "");
    continue;
  }
  const counts = m.counts ?? [];
  sum.first_t_us ??= m.tUs ?? "0";
  sum.last_t_us = m.tUs ?? "0";
  sum.first_arrival_ns ??= m.arrivalNs;
  sum.last_arrival_ns = m.arrivalNs;
  sum.cells = counts.length;
  sum.sum_of_counts = counts.reduce((a, c) => a + c, sum.sum_of_counts ?? 0);
  sum.weighted_sum_of_counts = counts.reduce((a, c, k) => a + c * (k + 1), sum.weighted_sum_of_counts ?? 0);
  sum.sum_of_seq = (sum.sum_of_seq ?? 0) + Number(m.seq ?? 0);
  sum.without_seq = (sum.without_seq ?? 0) + (m.seq === undefined ? 1 : 0);
}

const metadata = {};
for await (const record of reader.readMetadata()) {
  metadata[record.name] = Object.fromEntries(record.metadata);
}
await file.close();

// The first ten characters, five bits each, of the hash over the three hashes.
const contents = Buffer.concat([hashes.left.digest(), hashes.right.digest(), hashes.events.digest()]);
let bits = BigInt("0x" + createHash("sha256").update(contents).digest("hex")) >> (256n - 50n);
let id = "";
for (let i = 0; i < 10; i++, bits >>= 5n) {
  id = "0123456789abcdefghjkmnpqrstvwxyz"[Number(bits & 31n)] + id;
}

console.log(JSON.stringify({ id, profile: reader.header.profile, ordered, channels, metadata }, null, 1));
