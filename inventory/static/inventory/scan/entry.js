// The id of one scan, so that a scan sent twice counts once.

// A UUID of version 4 by hand: browsers offer crypto.randomUUID over HTTPS only, and most farms
// reach their own machine over plain HTTP.
export function newEntry(bytes = crypto.getRandomValues(new Uint8Array(16))) {
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}
