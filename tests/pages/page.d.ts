/** What the pages' scripts pass to one another; the contract's own interfaces are generated. */

/** The answers of the addresses that the pages ask. */
interface Answers {
  "/data/search": SearchAnswer;
  "/data/tonight": SearchAnswer;
  "/data/own": OwnAnswer;
  "/data/elements": ElementsAnswer;
  "/data/place": PlaceAnswer;
  "/data/map": MapAnswer;
  "/data/hidden": HiddenAnswer;
  "/data/circles": CirclesAnswer;
  "/data/around": AroundAnswer;
  "/data/way": WayAnswer;
  "/data/agenda": AgendaAnswer;
  "/data/longer": LongerAnswer;
  "/data/eyepiece": EyepieceView;
  "/data/log": LogAnswer;
  [outing: `/data/log/${number}`]: OutingAnswer;
  "/data/seen": SeenAnswer;
  "/data/lists": ListsAnswer;
  "/data/clock": ClockAnswer;
  "/data/missing-book": MissingBookAnswer;
  "/data/controller_stars": OfferedStars;
  "/data/telescope": TelescopeKnown;
  "/data/why": WhyAnswer;
  "/data/coach": CoachAnswer;
  "/data/mount": MountAnswer;
  "/data/checks": ChecksAnswer;
  "/data/mirrors_by_eye": PhotographAnswer;
}

/** What an action answers, where it is more than that it was done. */
interface DoneBy {
  check: CheckDone;
  sight: SightedDone;
  here_centred: SightedDone;
  answer_doubt: SightedDone;
  rehearse: RehearsalDone;
  controller_hand: ControllerShown;
}

/** A node of dom.js; without a tag it is text. */
interface Tree {
  tag?: string;
  props: Record<string, any>;
  kids: Tree[];
  text: string;
  el?: any;
}
type Kids = string | number | boolean | null | undefined | Tree | Kids[];
type Handler = (e: any) => unknown;
/** How well something was seen. */
type Seen = Actions["look"]["seen"];

/** Properties and listeners of a node. */
interface Props {
  [name: `on${string}`]: Handler | null;
  ref?: (el: any) => unknown;
  [name: string]: any;
}

/** The instant of a press, by both clocks of the phone. */
interface Pressed {
  mono: number;
  origin: number;
  wall: number;
}

/** What is left to push: as the stream tells, or worked out from typed readings. */
interface PushAmounts {
  az_deg: number;
  alt_deg: number;
}

/** An answer that did not come. */
interface Problem {
  problem: string;
}

/** What is centred: a star, or "?" with what to call it. */
interface NowCentred {
  star: string;
  what?: string;
}

/** A press that the server has not yet said it saved. */
interface Queued {
  id: string;
  name: "sight" | "here_centred" | "controller_entry";
  body: { star?: string; reading?: AskedShown } & Partial<AskedEntered>;
  at: Pressed;
  what: string;
  target: string;
  error: string;
  wants: string;
}

/** A press whose two readings are still to be typed: of a star, or of the target; or typed again, of
 * one that the server holds and asks about. */
interface Unread {
  name: "sight" | "here_centred";
  star: string;
  target: string;
  what: string;
  at: Pressed;
  doubt?: string;
}

/** Something centred beside a closed controller, while its two numbers are typed. */
interface Centred {
  star: string;
  chosen: string;
  what: string;
  at: Pressed;
  az: number | null;
}

/** What is asked of a closed controller and its telescope, as it is typed. */
interface BoxForm {
  page: number;
  stars: string[];
  catalogues: string[];
  clock: string;
  sign: string;
  decimals: number;
  aperture: string;
  focal: string;
  pieces: PieceTyped[];
}

/** An eyepiece as the fields of a form hold it. */
interface PieceTyped {
  name: string;
  focal: string;
  stop: string;
  apparent: string;
}

/** A telescope as it is asked for, question by question; what is typed is text. */
interface TelescopeForm {
  step: number;
  reads: "" | "typed" | "serial" | "tcp";
  name: string;
  aperture: string;
  focal: string;
  pieces: PieceTyped[];
  azTicks: string;
  altTicks: string;
  azReversed: boolean;
  altReversed: boolean;
  azFine: string;
  altFine: string;
  device: string;
  baud: string;
  host: string;
  port: string;
  asked: string;
  pushed: boolean;
  zero: "stop" | "kept" | "unknown";
  ports: readonly string[];
  filters: any[];
  finder: any;
  finderField: string;
}

/** What was put under the upright stop, as far as it is told. `many`, `typed`: in their fields. */
interface ShimForm {
  page: "what" | "thick" | "many" | "all";
  id: string;
  pieces: PieceSaid[];
  out: boolean;
  thick: number;
  many: string;
  typed: string;
}

type MendPart = "why" | "mount" | "checks" | "mirrors" | "help";

/** What this phone alone remembers; `open_ID`: which folds are open. */
interface Ui {
  [fold: `open_${string}`]: boolean;
  dress: string;
  lamp: number;
  text: number;
  beep: boolean;
  speech: boolean;
  ownKeys: boolean;
  facing: number | null;
  follow: boolean;
  agendaHours: number;
  seenKind?: string;
  seenDays?: string;
  seenName?: string;
  agendaKind: string;
  agendaHardest: string;
  agendaNew: boolean;
  learner: boolean;
  offered: boolean;
  learnt: string[];
  light?: boolean;
  padFor?: string;
  foundFor?: string;
  foundPress?: string;
  filterSeen?: boolean;
  query?: string;
  results?: FoundThing[] | null;
  resultsFor?: string;
  noResults?: string;
  star?: string;
  again?: string;
  stars?: FoundThing[] | null;
  starQuery?: string;
  restUntil?: number;
  waited?: boolean;
  aside?: number | "";
  ending?: boolean;
  allNotices?: boolean;
  kept?: number;
  dressAsked?: boolean;
  mapAt?: string;
  mend?: MendPart;
  check?: string;
  picked?: Record<string, string>;
  mirrored?: boolean;
  starPlace?: string;
  mirrorsWay?: string;
  numberAgain?: boolean;
  boxAgain?: boolean;
  stopAgain?: boolean;
  skylineText?: string;
}

interface Window {
  webkitAudioContext?: typeof AudioContext;
}
