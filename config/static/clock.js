// The clock page: the server's time, carried on from the moment the page was made.
const face = document.querySelector("[data-clock]");
const began = Date.parse(face.dateTime) - performance.now();
const zone = /([+-])(\d\d):(\d\d)$/.exec(face.dateTime);
const ahead = zone ? (zone[1] + 1) * (zone[2] * 60 + Number(zone[3])) * 60_000 : 0;

function show() {
  const local = new Date(began + performance.now() + ahead).toISOString();
  face.querySelector("[data-day]").textContent = local.slice(0, 10);
  face.querySelector("[data-time]").textContent = local.slice(11, 19);
}

show();
setInterval(show, 200);
