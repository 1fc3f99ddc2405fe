// Command hackle computes how a bee hive stands heat, cold and moisture.
package main

func main() {}
