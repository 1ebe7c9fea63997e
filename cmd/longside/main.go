// Command longside plans and prints what a person needs to record a long
// mixtape on compact cassettes.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], osStreams())) }
