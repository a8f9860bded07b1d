// Entry of the page: which screen the address names.
import { Component, render, type ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { KeptScreen } from './bench/kept_screen';
import { checkOf, LiveCheck, PracticeCheck, ResumedCheck } from './bench/running_screen';
import { onCoreDied } from './core/client';
import { tidy } from './job/keeping';
import { desk } from './job/desk_with_styles';
import { placeOf } from './job/place';
import { Start } from './job/start';
import { lazy } from './ui/lazy';
import { useRoute, type Route } from './ui/route';
import { checkWords } from './words/check';
import { words } from './words/common';
import { watchForUpdate, type Update } from './update';

// What a first visit to a check does not need is fetched when it is opened.
const aside = () => import('./bench/aside');
const PracticeScreen = lazy(async () => (await aside()).PracticeScreen);
const RecordingScreen = lazy(async () => (await aside()).RecordingScreen);
const BenchScreen = lazy(async () => (await aside()).BenchScreen);
const MatchScreen = lazy(async () => (await desk()).MatchScreen);
const JobScreens = lazy(async () => (await desk()).JobScreens);
const moving = async () => (await Promise.all([import('./move/screens'), desk()]))[0];
const FilesScreen = lazy(async () => (await moving()).FilesScreen);
const SharedScreen = lazy(async () => (await moving()).SharedScreen);
const watch = () => import('./move/watch');
const StoreWatch = lazy(async () => (await watch()).StoreWatch);
const FilingScreen = lazy(async () => (await desk()).FilingScreen);

function Screen({ route }: { route: Route }) {
  const [first = ''] = route.parts;
  switch (route.name) {
    case 'setup':
      return <LiveCheck check={checkOf(first)} sensor={route.query.get('sensor') === 'microphone' ? 'microphone' : 'coil'} place={placeOf(route.query)} />;
    case 'check':
      return <PracticeCheck route={route} />;
    case 'resume':
      return <ResumedCheck id={first} />;
    case 'practice':
      return <PracticeScreen place={placeOf(route.query)} />;
    case 'recording':
      return <RecordingScreen place={placeOf(route.query)} />;
    case 'bench':
      return <BenchScreen />;
    case 'match':
      return <MatchScreen />;
    case 'job':
      return <JobScreens route={route} />;
    case 'file':
      return <FilingScreen reading={first} place={placeOf(route.query)} />;
    case 'files':
      return <FilesScreen id={first} />;
    case 'shared':
      return <SharedScreen text={first} />;
    case 'reading':
      return <KeptScreen id={first} />;
    default:
      return <Start />;
  }
}

/** A screen that fails says so and leads back; what was recorded lies in the store. */
class Guard extends Component<{ children: ComponentChildren }, { fault?: string }> {
  override state: { fault?: string } = {};
  static override getDerivedStateFromError = (error: Error) => ({ fault: error.message });
  override render() {
    if (this.state.fault === undefined) return this.props.children;
    return (
      <main class="card-body">
        <h1>{words.broken}</h1>
        <p>{this.state.fault}</p>
        <p>
          <a href="#/" onClick={() => this.setState({ fault: undefined as unknown as string })}>
            {words.toStart}
          </a>
        </p>
      </main>
    );
  }
}

function App() {
  const route = useRoute();
  const [update, setUpdate] = useState<Update>();
  const [died, setDied] = useState(false);
  useEffect(() => {
    watchForUpdate(setUpdate);
    onCoreDied(() => setDied(true));
    // What is gone is looked for before anything is cleared away on purpose.
    void watch()
      .then((w) => w.lookBack())
      .catch(() => undefined)
      .then(tidy);
  }, []);
  const key = [route.name, ...route.parts, route.query.toString()].join('/');
  // Never in the middle of a check: a reload would lose the take that runs.
  const idle = route.name === '' || route.name === 'practice' || route.name === 'bench';
  return (
    <Guard key={key}>
      {died && (
        <p class="bar-notice" role="alert">
          {checkWords.coreDied}{' '}
          <button type="button" class="text-button" onClick={() => setDied(false)}>
            {words.understood}
          </button>
        </p>
      )}
      {update && idle && (
        <p class="bar-notice" role="status">
          {words.update.ready}{' '}
          <button type="button" class="text-button" onClick={update.apply}>
            {words.update.apply}
          </button>
        </p>
      )}
      <StoreWatch at={key} />
      <Screen key={key} route={route} />
    </Guard>
  );
}

const place = document.getElementById('page');
if (place) render(<App />, place);
