/* One file sent piece by piece: the client half of tus 1.0.0, as far as this house needs it. */

const PIECE = 2 * 1024 * 1024;
const WAITS_S = [1, 2, 4, 8, 15, 30];

export class Refused extends Error {}
export class SignedOut extends Error {}
class Lost extends Error {}

const cookie = (name) => document.cookie.split("; ").find((c) => c.startsWith(`${name}=`))?.split("=")[1] ?? "";
const csrfToken = () =>
  cookie("__Host-csrftoken") || cookie("csrftoken") || document.querySelector("[name=csrfmiddlewaretoken]")?.value;
const key = (file) => `sending:${file.name}:${file.size}:${file.lastModified}`;
const base64 = (bytes) => btoa(Array.from(bytes, (b) => String.fromCharCode(b)).join(""));
const pause = (s) => new Promise((done) => {
  const timer = setTimeout(done, s * 1000);
  addEventListener("online", () => { clearTimeout(timer); done(); }, { once: true });
});

/** Sends one request; a lost connection is `Lost`, a refusal carries the house's words. */
function ask(method, url, headers, { body, progress, signal, csrf }) {
  return new Promise((answer, refuse) => {
    const request = new XMLHttpRequest();
    request.open(method, url);
    request.setRequestHeader("Tus-Resumable", "1.0.0");
    if (csrf) request.setRequestHeader("X-CSRFToken", csrf);
    for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
    if (progress) request.upload.onprogress = (event) => progress(event.loaded);
    request.onerror = request.ontimeout = () => refuse(new Lost());
    request.onabort = () => refuse(new DOMException("cancelled", "AbortError"));
    request.onload = () => {
      if (!request.getResponseHeader("Tus-Resumable")) refuse(request.status >= 500 ? new Lost() : new SignedOut());
      else if (request.status < 300) answer(request);
      else if ([409, 423, 460].includes(request.status) || request.status >= 500 && request.status !== 507) refuse(new Lost());
      else refuse(Object.assign(new Refused(request.responseText), { status: request.status }));
    };
    signal?.addEventListener("abort", () => request.abort());
    request.send(body);
  });
}

async function checksum(piece) {
  if (!globalThis.crypto?.subtle) return {}; // plain http on a local network has none
  const digest = await crypto.subtle.digest("SHA-256", await piece.arrayBuffer());
  return { "Upload-Checksum": `sha256 ${base64(new Uint8Array(digest))}` };
}

async function create(address, file, told, context) {
  const metadata = Object.entries({ filename: file.name, ...told })
    .filter(([, value]) => value)
    .map(([name, value]) => `${name} ${base64(new TextEncoder().encode(value))}`).join(",");
  const made = await ask("POST", address, { "Upload-Length": file.size, "Upload-Metadata": metadata }, context);
  return { url: made.getResponseHeader("Location"), offset: 0 };
}

async function whereWeAre(address, file, told, context) {
  const kept = localStorage.getItem(key(file));
  if (kept) {
    try {
      const there = await ask("HEAD", kept, {}, context);
      return { url: kept, offset: Number(there.getResponseHeader("Upload-Offset")) };
    } catch (trouble) {
      if (!(trouble instanceof Refused)) throw trouble; // 404: swept or finished long ago
    }
  }
  const begun = await create(address, file, told, context);
  localStorage.setItem(key(file), begun.url);
  return begun;
}

/** Sends `file`; resolves to the frame's address and whether the house knew these bytes already. */
export async function send(address, file, { told = {}, on = () => {}, signal } = {}) {
  const context = { signal, csrf: csrfToken() };
  for (let lost = 0; ;) {
    try {
      let { url, offset } = await whereWeAre(address, file, told, context);
      for (;;) {
        const piece = file.slice(offset, offset + PIECE);
        on({ state: "sending", sent: offset });
        const answer = await ask("PATCH", url, {
          "Content-Type": "application/offset+octet-stream", "Upload-Offset": offset, ...await checksum(piece),
        }, { ...context, body: piece, progress: (n) => on({ state: "sending", sent: offset + n }) });
        lost = 0;
        offset = Number(answer.getResponseHeader("Upload-Offset"));
        const frame = answer.getResponseHeader("Frame-Location");
        if (frame) {
          localStorage.removeItem(key(file));
          return { frame, known: answer.getResponseHeader("Frame-Known") === "yes" };
        }
      }
    } catch (trouble) {
      if (trouble instanceof Refused) localStorage.removeItem(key(file));
      if (!(trouble instanceof Lost)) throw trouble;
      on({ state: "lost" });
      await pause(WAITS_S[Math.min(lost++, WAITS_S.length - 1)]);
      if (signal?.aborted) throw new DOMException("cancelled", "AbortError");
    }
  }
}

/** Tells the house that the rest of this file will not come. */
export async function forget(file) {
  const url = localStorage.getItem(key(file));
  localStorage.removeItem(key(file));
  if (url) await ask("DELETE", url, {}, { csrf: csrfToken() }).catch(() => {});
}
