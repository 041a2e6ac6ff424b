// Decodes ProRes packets with turbores (npm, MPL-2.0), a reader that shares no code with FFmpeg.
//   node prores_reader.mjs MODULE PACKETS PLANES
// PACKETS holds every packet after its length (4 bytes, little end first). PLANES gets the planes of every frame:
// Y, Cb, Cr, alpha in 16 bits, in whole macroblocks.
import { appendFileSync, readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [module, packets, planes] = process.argv.slice(2);
const { Decoder, Frame } = await import(pathToFileURL(module).href);
const decoder = must(await Decoder.create({ proresFourCc: "ap4h", useSharedMemory: false }));
const data = readFileSync(packets);
const frame = new Frame();
writeFileSync(planes, "");
for (let at = 0; at < data.length; ) {
  const end = at + 4 + data.readUInt32LE(at);
  const { frameData, pixelFormat } = must(await decoder.decode(new Uint8Array(data.subarray(at + 4, end)), frame));
  if (pixelFormat !== "I444AP12") throw new Error(`unlooked-for pixels: ${pixelFormat}`);
  appendFileSync(planes, frameData);
  at = end;
}
decoder.close();

function must(result) {
  if (result instanceof Error) throw result;
  return result;
}
