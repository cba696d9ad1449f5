// The plots of a day as the farm's computer last told them, and over them what waits on this phone.

export const PICKINGS = ["counted", "nothing to cut", "not picked"];

// The newest record of this phone for a plot that says what became of it that day.
export function recordOf(plot, day, records) {
  const own = records.filter(
    (each) =>
      each.plot === plot.plot && each.day === day.day && !["note", "photo"].includes(each.what),
  );
  return own.at(-1) ?? null;
}

export const own = (records, day) =>
  records.filter((each) => each.person === day.person && each.farm === day.farm);

export function sum(pairs) {
  return pairs.reduce((total, [, text]) => total + (Number.parseInt(text, 10) || 0), 0);
}

// A plot as it stands: what waits here comes before what was told.
export function asItStands(plot, day, records) {
  const record = recordOf(plot, day, records);
  const told = { ...plot, record };
  if (record === null || record.state === "stopped") return told;
  if (record.what === "lost") return { ...told, lost: record.words };
  return {
    ...told,
    outcome: record.what === "not picked" ? "missed" : "picked",
    stems: sum(record.stems),
    culls: sum(record.culls),
  };
}

export const isLeft = (plot) =>
  plot.outcome === null && plot.lost === null && plot.record === null;

// The spray that keeps people out of a plot longest from now; null where it is open.
export function closedBy(plot, now) {
  const closing = plot.sprays.filter((spray) => spray.begins <= now && now < spray.until);
  return closing.sort((one, other) => other.until - one.until)[0] ?? null;
}

// The next plot in walking order that nobody has tallied and that may be entered.
export function nextLeft(plots, here, now) {
  const place = plots.findIndex((plot) => plot.plot === here) + 1;
  const onwards = [...plots.slice(place), ...plots.slice(0, place)];
  return (
    onwards.find((plot) => plot.plot !== here && isLeft(plot) && closedBy(plot, now) === null) ?? null
  );
}

export function withoutOutcomes(day, on) {
  const plots = day.plots.map((plot) => ({ ...plot, outcome: null, stems: null, culls: null }));
  return { ...day, day: on, today: on, plots };
}

export function localDay(ms) {
  const at = new Date(ms);
  const two = (number) => String(number).padStart(2, "0");
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}
