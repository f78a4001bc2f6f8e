/* From one print to the next without leaving the page: what is fetched ahead, and what asks for it. */

/** The page at an address with its picture loaded, not counted as seen; nothing where it did not come. */
export async function fetchedAhead(address) {
  try {
    const answer = await fetch(address, { headers: { "X-Fetched": "ahead" } });
    if (!answer.ok || answer.redirected) return null;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const picture = page.querySelector("img.picture");
    if (picture) await Object.assign(new Image(), { src: picture.getAttribute("src") }).decode().catch(() => {});
    return page;
  } catch { return null; }
}

/** Whether a click means this page, and not a new tab or window. */
export function staysHere(event) { return !(event.ctrlKey || event.metaKey || event.shiftKey || event.button); }

/** Lets `turn` take the address of the print before or after when its link is followed. */
export function whenTurned(turn) {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[rel=next], a[rel=prev]");
    if (!link || !staysHere(event)) return;
    event.preventDefault();
    turn(link.href);
  });
}
