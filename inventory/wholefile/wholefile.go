// Package wholefile writes files whole or not at all: what it writes is made
// in a hidden file beside the one meant, brought to the disk, and put in its
// place at one stroke. A run that dies on the way leaves the old file as it
// was, and at most the hidden one, named by a dot, the file's name and digits.
//
// [Write] is all there is to it.
package wholefile
