// Words of the look: what is looked at, and what was seen.

const point = (label: string, help: string) => ({ label, help });

/** By the names of the core (src/job/look_points.rs); a test holds the two together. */
export const POINTS: Record<string, { label: string; help: string }> = {
  // Drivers.
  glue_line: point('Glue line', 'Even, unbroken, no glue on the roll.'),
  surround_seating: point('Seat of the surround', 'Flat all round, roll of one height, no fold.'),
  dust_cap: point('Dust cap', 'In the middle, tight, as it was found.'),
  gasket: point('Gasket', 'All pieces there, stuck down.'),
  lead_outs: point('Lead-outs', 'Clear of the cone and the spider, room to move, no frayed strand.'),
  straight_push: point('Straight push by hand', 'Press evenly with the fingertips of both hands near the cap: it travels without a scrape. Foam that crumbles is not pressed.'),
  terminals: point('Terminals', 'Firm, clean, marked as found.'),
  frame: point('Frame', 'Flat at the rim, no crack, magnet firm.'),
  // Cabinets.
  joints: point('Joints', 'Closed; knock along them and listen for a buzz.'),
  veneer: point('Veneer and edges', 'No lifting, no fresh damage.'),
  baffle_seating: point('Seats of the drivers', 'Flat, screws hold, seals whole.'),
  port: point('Port', 'Firm, clear, of the length it had.'),
  wadding: point('Wadding', 'There, in place, dry.'),
  wiring: point('Wiring', 'Tight, no bare strand, polarity as noted.'),
  grille: point('Grille', 'Fits, no buzz.'),
  // Controls.
  shaft: point('Shaft', 'Turns evenly, no wobble.'),
  stops: point('Stops and steps', 'Every step holds, both ends hold.'),
  track: point('Track and wiper', 'Bright, unworn, no burnt place.'),
  housing: point('Housing', 'Whole, closed.'),
  mounting: point('Mounting', 'Firm in the panel.'),
  // Crossovers.
  board: point('Board', 'No burnt place, no crack.'),
  capacitors: point('Capacitors', 'No bulge, no leak, values readable.'),
  coils: point('Coils', 'Firm, no burnt lacquer, at the angle they had.'),
  resistors: point('Resistors', 'Not scorched, values readable.'),
  solder_joints: point('Solder joints', 'Bright, no ring of a crack.'),
  // Finished loudspeakers.
  drivers_seated: point('Drivers seated', 'Flat, screws even, right way up.'),
  seals: point('Seals', 'No hiss at the rims while the bass cone is moved slowly.'),
  controls_work: point('Controls', 'Each position sounds, nothing crackles.'),
  finish: point('Finish', 'Clean, no fresh marks.'),
};

export const lookWords = {
  title: 'Look at it, point by point',
  help: 'One tap a point. What you do not tap counts as not looked at.',
  caution: 'The magnet pulls tools and fingers, and upsets pacemakers and cards. Keep loose iron off the bench.',
  findings: { sound: 'sound', fault: 'put right', unclear: 'unclear', absent: 'not there' },
  /** As it stands in print. */
  said: { sound: 'sound', fault: 'to be put right', unclear: 'cannot be told', absent: 'this part has none' },
  count: (done: number, of: number) => (done === of ? `All ${of} points looked at.` : `${done} of ${of} points looked at.`),
  more: (label: string) => `Note or photo: ${label}`,
  moreShort: 'Note or photo',
  note: (label: string) => `Note: ${label}`,
  photo: (label: string) => `Add a photo: ${label}`,
  photoShort: 'Add a photo',
  photoOf: (label: string, n: number) => `${label}, photo ${n}`,
  removePhoto: (label: string, n: number) => `Take off photo ${n}: ${label}`,
  removeShort: 'Take off',
  photoRemoved: 'The photo was taken off.',
  photoFailed: 'This file is no picture that the browser can read. A photo as JPEG or PNG will do.',
  photoWorking: 'Taking the photo in.',
  photoGone: 'This photo is not in this browser.',
};

export const pointWords = (name: string) => POINTS[name]?.label ?? name.replaceAll('_', ' ');
