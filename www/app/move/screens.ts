// Moving and sharing; it comes as a file of its own.
export { FilesScreen } from './files_screen';
export { SharedScreen } from './shared_screen';
