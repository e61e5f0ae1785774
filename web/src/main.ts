import './styles/fonts.css';
import './styles/tokens.css';
import './styles/base.css';
import { mount } from 'svelte';
import App from './App.svelte';
import { me } from './state/me.svelte';
import { prefs } from './state/prefs.svelte';
import { install } from './visits/install';
import { way } from './visits/way.svelte';

prefs.apply();
// The phone's pages speak the crew's language.
if (!way.on) prefs.speaks({});
void me.load();
mount(App, { target: document.getElementById('app')! });
install();
