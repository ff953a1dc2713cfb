// Bytes: their hash, and a count of them in words.
import { figure } from "../../../base/script/parts/told.js";

export async function sha256(content) {
  return hexOf(await crypto.subtle.digest("SHA-256", content));
}

export function hexOf(buffer) {
  return [...new Uint8Array(buffer)].map((one) => one.toString(16).padStart(2, "0")).join("");
}

export function sizeWords(bytes) {
  if (bytes >= 1e9) return `${figure((bytes / 1e9).toFixed(1))} GB`;
  if (bytes >= 1e6) return `${Math.round(bytes / 1e6)} MB`;
  return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
}
