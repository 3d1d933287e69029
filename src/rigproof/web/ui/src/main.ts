import { mount } from "svelte";
import Page from "./frame/Page.svelte";
import "./tokens.css";

const target = document.getElementById("page");
if (target) mount(Page, { target });
