import './styles/fonts.css';
import './styles/tokens.css';
import './styles/base.css';
import { mount } from 'svelte';
import App from './App.svelte';
import { prefs } from './state/prefs.svelte';
import { install } from './visits/install';

prefs.apply();
mount(App, { target: document.getElementById('app')! });
install();
